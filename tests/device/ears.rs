//! Loudspeaker and microphone together: the room measured, our own sound taken out, the microphone lost and back.

use device::{BUFFER_FRAMES, Output, Wanted};
use engine::journal::Recipe;
use listen::cancel::Clearness;
use listen::room::Meeting;
use precentor::app::session::ears::Ears;
use sequencer::Cue;
use std::os::unix::process::CommandExt;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use super::player::{Player, is_started};
use super::server::Server;
use crate::cli::recording::{silence, write};

const SECOND: Duration = Duration::from_secs(1);
const MS: Duration = Duration::from_millis(1);
/// How often the room is measured at most: a busy machine may drop sound between two programs.
const ATTEMPTS: usize = 5;
/// Seconds in which what was dropped on its way must be met again.
const LOOKS: usize = 30;
/// Seconds for which our own sound must be taken out at one and the same place.
const HOLDS: usize = 8;

/// The other program: an engine that plays, and ears beside it, as the console has them. A line for every event.
#[test]
#[ignore = "started by the other tests of this file"]
fn ears() {
    if !is_started() {
        return;
    }
    let (mut controls, renderer) = engine::pair(crate::render::RATE);
    let output = Output::start(renderer, Wanted::Default, BUFFER_FRAMES[1]);
    let mut ears = Ears::open(Wanted::Default);
    let (orders_in, orders) = crossbeam_channel::unbounded();
    thread::spawn(move || std::io::stdin().lines().map_while(Result::ok).try_for_each(|line| orders_in.send(line)));
    let mut last = None;
    println!();
    loop {
        controls.poll();
        for news in ears.poll(&mut controls) {
            println!("EVENT {news:?}");
        }
        last = ears.stretches().last().map_or(last, |stretch| stretch.at.map(|at| (stretch.heard, at)));
        for event in output.events().try_iter() {
            println!("EVENT Output{event:?}");
        }
        match orders.recv_timeout(20 * MS).as_deref() {
            Ok("measure") => ears.calibrate(&mut controls),
            Ok("freeze") => ears.freeze(true),
            Ok("go") => {
                controls.load(crate::render::drill(crate::render::LONG), None, Recipe::default());
                controls.cue(Cue::Go);
            }
            Ok("hush") => controls.hush(),
            Ok("meet") => {
                let (delay, ppm, doubt) = match ears.meeting() {
                    Meeting::Unknown => (f64::NAN, f64::NAN, f64::NAN),
                    Meeting::Found { delay, ratio_ppm, doubt } => (1000.0 * delay, ratio_ppm, doubt),
                };
                let clear = match ears.clearness() {
                    Clearness::Unknown => f64::NAN,
                    Clearness::Clear(taken) | Clearness::Poor(taken) => taken.0,
                };
                // how long after it was rendered the engine's frame was heard that came last, and how far the two counts are apart
                let late = last.map_or(f64::NAN, |(_, at)| (output.frame().0 as f64 - at.0 as f64) / 48.0);
                let apart = last.map_or(f64::NAN, |(heard, at)| at.0 as f64 - heard.0 as f64);
                let level = ears.level().map_or(f64::NAN, |level| level.rms.0);
                println!("EVENT Meeting {delay} {ppm} {doubt} {clear} {level} {late} {apart}");
            }
            Ok(_) | Err(crossbeam_channel::RecvTimeoutError::Disconnected) => break,
            Err(crossbeam_channel::RecvTimeoutError::Timeout) => {}
        }
    }
    ears.close(&mut controls);
    output.stop();
    println!("STOPPED 0");
    std::process::exit(0);
}

fn start(server: &Server) -> Player {
    Player::start_other(server, "device::ears::ears")
}

/// The next event that starts with `name`, and how long it took.
fn until(player: &mut Player, name: &str, limit: Duration) -> (Duration, String) {
    let (start, mut seen) = (Instant::now(), Vec::new());
    while let Some((at, event)) = player.event(limit.saturating_sub(start.elapsed())) {
        if event.starts_with(name) {
            return (at.saturating_duration_since(start), event);
        }
        seen.push(event);
    }
    panic!("no {name} within {limit:?}: {seen:#?}");
}

/// Delay in ms, ratio and its doubt in ppm, dB taken out, dBFS, lateness in ms, and how many frames the engine's count is ahead of the
/// microphone's for one moment.
fn meet(player: &mut Player) -> [f64; 7] {
    player.order("meet");
    let (_, event) = until(player, "Meeting ", 5 * SECOND);
    let mut numbers = event.split(' ').skip(1).map(|number| number.parse().unwrap());
    std::array::from_fn(|_| numbers.next().unwrap())
}

/// Measures the room, again where sound dropped out on the way of the sweep, as its message asks for; dB by which the second half of the
/// sweep was foretold.
fn measure(player: &mut Player) -> f64 {
    let (start, mut seen) = (Instant::now(), Vec::new());
    for _ in 0..ATTEMPTS {
        player.order("measure");
        let asked = Instant::now();
        while let Some((_, event)) = player.event((20 * SECOND).saturating_sub(asked.elapsed())) {
            if event.starts_with("Measured(") {
                return event.split(['(', ')']).find_map(|part| part.parse().ok()).unwrap();
            }
            let unsteady = event == "NotMeasured(Unsteady)";
            seen.push(event);
            if unsteady {
                break;
            }
        }
    }
    panic!("not measured in {ATTEMPTS} attempts, {:?}: {seen:#?}", start.elapsed());
}

/// A program that carries the loudspeaker's sound to the microphone, and is ended with this.
struct Carrier(Child);

impl Carrier {
    /// Carries it as if the microphone took `rate` frames for 48,000, about `late` ms late.
    fn start(server: &Server, rate: u32, late: u32) -> Self {
        let raw = "--raw --format=float32le --channels=1";
        // a buffer that is full from the start is as late all the time: one that ran dry first would shift all that follows
        let full = 4 * 48 * late;
        let carry = format!(
            "{{ head -c {full} /dev/zero; parec -d room.monitor {raw} --rate=48000 --latency-msec=20; }} \
            | pacat -d micfeed {raw} --rate={rate} --latency-msec={late}"
        );
        let child =
            Command::new("bash").args(["-c", &carry]).envs(server.environment()).stdin(Stdio::null()).process_group(0).spawn().unwrap();
        Self(child)
    }
}

impl Drop for Carrier {
    fn drop(&mut self) {
        // both ends of it
        let group = format!("-{}", self.0.id());
        let _ = Command::new("kill").args(["-s", "KILL", "--", &group]).status();
        let _ = self.0.wait();
    }
}

fn spread(all: &[f64]) -> f64 {
    all.iter().copied().fold(f64::MIN, f64::max) - all.iter().copied().fold(f64::MAX, f64::min)
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn the_room_is_measured_and_our_own_sound_taken_out() {
    let server = Server::start();
    server.pactl(&["load-module", "module-loopback", "source=room.monitor", "sink=micfeed", "latency_msec=100", "adjust_time=0"]);
    let mut player = start(&server);
    until(&mut player, "On {", 5 * SECOND);
    thread::sleep(2 * SECOND);
    let (mut delays, mut frames) = (Vec::new(), Vec::new());
    for _ in 0..3 {
        let foretold = measure(&mut player);
        thread::sleep(SECOND);
        let [delay, ppm, doubt, .., apart] = meet(&mut player);
        frames.push(apart);
        println!("delay {delay:.2} ms, {ppm:+.2} ppm (doubt {doubt:.2}), the second rise foretold but for {foretold:.1} dB");
        assert!(foretold > 20.0 && ppm.abs() < 5.0, "{foretold} dB, {ppm} ppm");
        delays.push(delay);
    }
    println!("delays within {:.3} ms, frames within {}", spread(&delays), spread(&frames));
    // the delay is from the newest sent, which goes by the looks; the frames are the microphone's and the engine's own
    assert!(spread(&delays) < 30.0 && spread(&frames) <= 2.0, "{delays:?}, {frames:?}");
    player.order("go");
    let mut playing: Vec<[f64; 7]> = Vec::new();
    // a busy machine may drop some sound, after which all is met again elsewhere: then it must hold
    let holds = |looks: &[[f64; 7]]| {
        let all = |number: usize| looks.iter().map(|look| look[number]).collect::<Vec<_>>();
        looks.len() == HOLDS && spread(&all(0)) < 1.0 && spread(&all(6)) <= 2.0 && looks.iter().all(|look| look[3] > 20.0)
    };
    for _ in 0..LOOKS {
        thread::sleep(SECOND);
        let all @ [delay, ppm, _, taken, level, late, apart] = meet(&mut player);
        println!(
            "playing: delay {delay:.2} ms, {ppm:+.2} ppm, {taken:.1} dB taken out, {level:.1} dBFS, frames {late:.1} ms late, {apart} apart"
        );
        playing.push(all);
        if holds(&playing[playing.len().saturating_sub(HOLDS)..]) {
            break;
        }
    }
    assert!(holds(&playing[playing.len().saturating_sub(HOLDS)..]), "{playing:?}");
    // it cannot be heard before it was rendered, nor much later than the loop takes
    assert!(playing.iter().all(|all| (80.0..900.0).contains(&all[5])), "{playing:?}");
    player.stop();
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn clocks_that_drift_apart_are_found_out() {
    for (rate, ppm) in [(48_000, 0.0), (48_001, 1e6 / 48_000.0), (47_998, -2e6 / 48_000.0)] {
        let server = Server::start();
        let _carrier = Carrier::start(&server, rate, 400);
        let mut player = start(&server);
        until(&mut player, "On {", 5 * SECOND);
        thread::sleep(2 * SECOND);
        let foretold = measure(&mut player);
        let [delay, found, doubt, ..] = meet(&mut player);
        println!("{rate}: delay {delay:.2} ms, {found:+.2} ppm (doubt {doubt:.2}) for {ppm:+.2}, foretold but for {foretold:.1} dB");
        assert!((found - ppm).abs() < 5.0, "{found} ppm for {ppm}");
        player.order("go");
        thread::sleep(12 * SECOND);
        // the carrier itself may drop some on a busy machine
        let followed = (0..LOOKS).any(|_| {
            thread::sleep(SECOND);
            let [delay, found, doubt, taken, ..] = meet(&mut player);
            println!("{rate}: playing, delay {delay:.2} ms, {found:+.2} ppm (doubt {doubt:.2}), {taken:.1} dB taken out");
            (found - ppm).abs() < 5.0 && taken > 20.0
        });
        assert!(followed, "not within 5 ppm of {ppm} with our own sound taken out");
        player.stop();
    }
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn sound_dropped_on_its_way_is_met_again() {
    let server = Server::start();
    let carrier = Carrier::start(&server, 48_000, 400);
    let mut player = start(&server);
    until(&mut player, "On {", 5 * SECOND);
    thread::sleep(2 * SECOND);
    measure(&mut player);
    player.order("go");
    // the carrier itself may drop some on a busy machine
    let clear = |player: &mut Player| {
        thread::sleep(SECOND);
        let [delay, ppm, _, taken, _, _, apart] = meet(player);
        println!("delay {delay:.2} ms, {ppm:+.2} ppm, {taken:.1} dB taken out, {apart} frames apart");
        (taken > 20.0).then_some(apart)
    };
    thread::sleep(3 * SECOND);
    let before = (0..LOOKS).find_map(|_| clear(&mut player)).expect("clear once");
    // another way, a while longer or shorter
    drop(carrier);
    thread::sleep(200 * MS);
    let _carrier = Carrier::start(&server, 48_000, 320);
    thread::sleep(3 * SECOND);
    let after = (0..LOOKS).find_map(|_| clear(&mut player)).expect("clear again");
    assert!((after - before).abs() > 10.0, "the way was no other: {before}, {after}");
    player.stop();
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn a_microphone_comes_back_after_the_server_died() {
    let server = Server::start();
    let mut player = start(&server);
    let (_, on) = until(&mut player, "On {", 5 * SECOND);
    assert!(on.contains("id: \"pulseaudio:mic\"") && on.contains("returned: None"), "{on}");
    for _ in 0..3 {
        thread::sleep(2_500 * MS);
        server.script("kill");
        let (noticed, lost) = until(&mut player, "Lost", 2 * SECOND);
        thread::sleep(300 * MS);
        server.script("start");
        let (back, on) = until(&mut player, "On {", 5 * SECOND);
        println!("noticed after {noticed:?} ({lost}), back {back:?} after the start: {on}");
        assert!(on.contains("returned: Some("), "{on}");
        assert!(back < 2 * SECOND, "{back:?}");
    }
    player.stop();
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn a_microphone_that_sleeps_or_is_muted_is_told_and_heard_again() {
    let server = Server::start();
    let mut player = start(&server);
    until(&mut player, "On {", 5 * SECOND);
    // nothing is played into it
    let (muted, _) = until(&mut player, "Muted", 6 * SECOND);
    println!("told as muted after {muted:?}");
    let folder = tempfile::tempdir().unwrap();
    let sound: Vec<f32> = silence(3.0).iter().enumerate().map(|(n, _)| 0.1 * (n as f32 * 0.05).sin()).collect();
    let path = folder.path().join("sound.wav");
    write(&path, &sound);
    let mut say = Command::new("paplay").args(["-d", "micfeed"]).arg(&path).envs(server.environment()).spawn().unwrap();
    until(&mut player, "Unmuted", 3 * SECOND);
    thread::sleep(SECOND);
    let level = meet(&mut player)[4];
    // a sine's level is its peak
    assert!((level + 20.0).abs() < 1.0, "{level} dBFS");
    assert!(say.wait().unwrap().success());
    server.pactl(&["suspend-source", "mic", "1"]);
    let (lost, event) = until(&mut player, "Lost", 3 * SECOND);
    println!("asleep: {event} after {lost:?}");
    assert!(event.contains("gives no sound"), "{event}");
    let (told, event) = until(&mut player, "Refused", 10 * SECOND);
    println!("asleep: {event} after {told:?}");
    server.pactl(&["suspend-source", "mic", "0"]);
    let (back, on) = until(&mut player, "On {", 15 * SECOND);
    println!("awake: back after {back:?}");
    assert!(on.contains("returned: Some("), "{on}");
    player.stop();
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn doctor_tells_what_the_microphone_hears() {
    let server = Server::start();
    let doctor = || {
        let output = Command::new(env!("CARGO_BIN_EXE_precentor")).args(["doctor"]).envs(server.environment()).output().unwrap();
        let told = String::from_utf8(output.stdout).unwrap();
        told.lines().skip_while(|line| !line.contains("microphone")).take(2).collect::<Vec<_>>().join("\n")
    };
    let zeros = doctor();
    println!("{zeros}");
    assert!(zeros.starts_with("weak") && zeros.contains("nothing but zeros") && zeros.contains("mend: unmute it"), "{zeros}");
    let folder = tempfile::tempdir().unwrap();
    let sound: Vec<f32> = silence(20.0).iter().enumerate().map(|(n, _)| 0.1 * (n as f32 * 0.05).sin()).collect();
    let path = folder.path().join("sound.wav");
    write(&path, &sound);
    let mut say = Command::new("paplay").args(["-d", "micfeed"]).arg(&path).envs(server.environment()).spawn().unwrap();
    thread::sleep(SECOND);
    let heard = doctor();
    println!("{heard}");
    say.kill().unwrap();
    say.wait().unwrap();
    assert!(heard.starts_with("ok") && heard.contains("48000 Hz: peak 20, mean 20 dB under its full scale; it hears something"), "{heard}");
    server.script("hang");
    let hangs = doctor();
    server.script("wake");
    println!("{hangs}");
    assert!(hangs.starts_with("weak") && hangs.contains("mend:"), "{hangs}");
}
