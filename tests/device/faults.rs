//! The sound server dies, hangs, moves things about or is not there.

use std::thread;
use std::time::{Duration, Instant};

use super::player::Player;
use super::server::Server;
use super::sine::silences;

const SECOND: Duration = Duration::from_secs(1);
const MS: Duration = Duration::from_millis(1);

/// Whether something sounds in `sink` now.
fn sounds(server: &Server, sink: &str) -> bool {
    let recording = server.record(sink);
    thread::sleep(1_500 * MS);
    let samples = recording.end();
    samples.iter().filter(|sample| sample.abs() > 1e-4).count() > samples.len() / 4
}

/// Kills the server three times and starts it again; `limit` is how long sound may take to be back.
fn kill_three_times(server: &Server, player: &mut Player, limit: Duration) {
    player.expect("Playing", 5 * SECOND);
    for _ in 0..3 {
        thread::sleep(2_500 * MS);
        let killed = Instant::now();
        server.script("kill");
        let (lost, _) = player.expect("Lost", SECOND);
        thread::sleep(300 * MS);
        server.script("start");
        let restarted = Instant::now();
        let (returned, event) = player.expect("Returned", 4 * SECOND);
        let (noticed, back) = (lost - killed, returned.saturating_duration_since(restarted));
        println!("noticed {noticed:?} after the kill, back {back:?} after the restart: {event}");
        assert!(noticed < 500 * MS, "{noticed:?}");
        assert!(back < limit, "{back:?}");
    }
    assert!(sounds(server, "room"));
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn sound_survives_three_deaths_of_the_server() {
    let server = Server::start();
    let mut player = Player::start(&server, "default");
    kill_three_times(&server, &mut player, SECOND);
    player.stop();
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn sound_through_alsa_survives_three_deaths_of_the_server() {
    let server = Server::start();
    let mut player = Player::start_on_alsa(&server);
    kill_three_times(&server, &mut player, SECOND);
    player.stop();
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn sound_survives_the_program_being_stopped_and_continued() {
    let server = Server::start();
    let mut player = Player::start(&server, "default");
    player.expect("Playing", 5 * SECOND);
    thread::sleep(SECOND);
    player.signal("STOP");
    thread::sleep(SECOND);
    player.signal("CONT");
    let events = player.events_for(2 * SECOND);
    println!("{events:?}");
    assert!(sounds(&server, "room"));
    player.stop();
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn a_hanging_server_hangs_nobody_else() {
    let server = Server::start();
    let mut player = Player::start(&server, "default");
    player.expect("Playing", 5 * SECOND);
    thread::sleep(SECOND);
    let hung = Instant::now();
    server.script("hang");
    let (lost, _) = player.expect("Lost", 2 * SECOND);
    let (told, event) = player.expect("NoDevice", 5 * SECOND);
    println!("lost after {:?}, told after {:?}: {event}", lost - hung, told - hung);
    assert!(event.contains("does not answer") && event.contains("restart the sound server"), "{event}");
    let (time, survey) = player.survey();
    println!("survey in {time} ms: {survey}");
    assert!((1_500..2_500).contains(&time), "the survey took {time} ms");
    assert!(survey.contains("does not answer"), "{survey}");
    server.script("wake");
    let woken = Instant::now();
    let (returned, _) = player.expect("Returned", 5 * SECOND);
    println!("back {:?} after it woke", returned - woken);
    assert!(sounds(&server, "room"));
    // and now in the middle of it
    server.script("hang");
    let time = player.stop();
    println!("stopped in {time} ms while it hung");
    server.script("wake");
    assert!(time < 200, "{time} ms");
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn a_hang_noticed_before_stopping_does_not_delay_it_either() {
    let server = Server::start();
    let mut player = Player::start(&server, "default");
    player.expect("Playing", 5 * SECOND);
    server.script("hang");
    player.expect("Lost", 2 * SECOND);
    thread::sleep(500 * MS);
    let time = player.stop();
    println!("stopped in {time} ms while reopening hung");
    server.script("wake");
    assert!(time < 200, "{time} ms");
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn sound_goes_on_when_sinks_come_go_and_sleep() {
    let server = Server::start();
    let hall = server.add_sink("hall");
    let mut player = Player::start(&server, "default");
    player.expect("Playing", 5 * SECOND);
    server.pactl(&["set-default-sink", "hall"]);
    let moved = player.events_for(2 * SECOND);
    println!("default switched: {moved:?}");
    assert!(sounds(&server, "hall") || sounds(&server, "room"), "silence after the default sink was switched");
    server.pactl(&["unload-module", &hall]);
    let unloaded = player.events_for(2 * SECOND);
    println!("sink unloaded: {unloaded:?}");
    assert!(sounds(&server, "room"), "silence after its sink was unloaded");
    let asleep = Instant::now();
    server.pactl(&["suspend-sink", "room", "1"]);
    let (lost, _) = player.expect("Lost", 2 * SECOND);
    let (told, event) = player.expect("NoDevice", 8 * SECOND);
    println!("suspended: lost after {:?}, told after {:?}: {event}", lost - asleep, told - asleep);
    assert!(event.contains("takes no sound"), "{event}");
    server.pactl(&["suspend-sink", "room", "0"]);
    let awake = Instant::now();
    let (returned, _) = player.expect("Returned", 4 * SECOND);
    println!("resumed: back after {:?}", returned.saturating_duration_since(awake));
    assert!(sounds(&server, "room"), "silence after its sink was resumed");
    player.stop();
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn without_a_server_the_clock_runs_and_the_console_is_told_how_to_get_sound() {
    let server = Server::absent();
    let mut player = Player::start(&server, "default");
    let (_, event) = player.expect("NoDevice", 5 * SECOND);
    assert!(event.contains("start the sound server"), "{event}");
    player.frames.clear();
    assert_eq!(player.events_for(5 * SECOND), [""; 0], "told more than once");
    let ((start, first), (end, last)) = (player.frames[0], player.frames[player.frames.len() - 1]);
    let error = (last - first) as f64 / 48_000.0 - (end - start).as_secs_f64();
    println!("the silent clock is off by {:.1} ms in {:?}", error * 1000.0, end - start);
    assert!(error.abs() < 0.05, "the silent clock is off by {error} s");
    server.script("start");
    player.expect("Playing", 5 * SECOND);
    player.stop();
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn a_device_is_found_by_name_and_a_wrong_name_is_told() {
    let server = Server::start();
    let mut player = Player::start(&server, "the organ loft");
    let (_, event) = player.expect("NoDevice", 5 * SECOND);
    assert!(event.contains("no output device called \\\"the organ loft\\\""), "{event}");
    let (_, survey) = player.survey();
    assert!(survey.contains("id: \"pulseaudio:room\"") && survey.contains("default: true"), "{survey}");
    player.order("use pulseaudio:room");
    player.expect("Playing { device: \"room\"", 5 * SECOND);
    player.stop();
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn changing_devices_leaves_nothing_behind() {
    let server = Server::start();
    let mut player = Player::start(&server, "room");
    player.expect("Playing", 5 * SECOND);
    player.order("use default");
    player.expect("Playing", 5 * SECOND);
    thread::sleep(500 * MS);
    let before = player.threads();
    for _ in 0..10 {
        player.order("use room");
        player.expect("Playing", 5 * SECOND);
    }
    thread::sleep(SECOND);
    let after = player.threads();
    println!("{before} threads before, {after} after ten changes");
    let recording = server.record("room");
    thread::sleep(SECOND);
    assert!(silences(&recording.end(), 4_800).is_empty());
    player.stop();
    assert!(after <= before + 2, "{before} threads before, {after} after");
}
