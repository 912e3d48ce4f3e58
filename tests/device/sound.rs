//! What reaches the loudspeaker.

use std::thread;
use std::time::{Duration, Instant};

use super::gap;
use super::player::Player;
use super::server::Server;
use super::sine::{RATE, longest_sound, measure, silences};

const SECOND: Duration = Duration::from_secs(1);

/// The shortest silence that must be told.
const TOLD: usize = RATE as usize / 1000;
/// The shortest silence looked for: the tone is never this quiet for so long by itself.
const SHORTEST: usize = 8;

/// Half a second at each end: the drone swells, the stream fades.
fn middle(samples: &[f32]) -> &[f32] {
    let edge = RATE as usize / 2;
    &samples[edge.min(samples.len())..samples.len().saturating_sub(edge).max(edge.min(samples.len()))]
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn a_drone_is_in_tune_and_no_silence_in_it_goes_untold() {
    let server = Server::start();
    let mut player = Player::start(&server, "default");
    player.expect("Playing", 5 * SECOND);
    thread::sleep(2 * SECOND);
    let recording = server.record("room");
    let mut gaps = player.events_for(12 * SECOND);
    let samples = recording.end();
    // a gap is told a little after it was heard
    gaps.extend(player.events_for(SECOND / 2));
    player.stop();
    let silences = silences(&samples, SHORTEST);
    let sound = &samples[longest_sound(&samples, &silences)];
    assert!(sound.len() > 4 * RATE as usize, "only {} samples in one piece", sound.len());
    let tone = measure(middle(sound), 440.0);
    println!("{tone:?} over {} samples, silences {silences:?}, told {gaps:?}", middle(sound).len());
    assert!(tone.cents.abs() < 0.01, "{} cents off", tone.cents);
    assert!(tone.wander < 1e-3, "its phase wanders by {} cycles", tone.wander);
    // silences close together may be told as one; a stream that was opened anew settles for a second
    let silent: usize = silences.iter().map(ExactSizeIterator::len).filter(|length| *length > TOLD).sum();
    let told = gaps.iter().filter_map(|event| gap(event)).sum::<f64>() * RATE;
    let reopened = gaps.iter().any(|event| event.starts_with("BufferGrown"));
    assert!(reopened || silent as f64 <= 1.1 * told, "{silent} samples of silence, but {told} told");
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn every_gap_is_told_with_its_length_and_three_grow_the_buffer() {
    let server = Server::start();
    let mut player = Player::start(&server, "default");
    player.expect("Playing", 5 * SECOND);
    let mut grown = Vec::new();
    for _ in 0..3 {
        // longer than a stream takes to settle
        thread::sleep(2 * SECOND);
        // too short to be taken for a loss
        let start = Instant::now();
        server.pactl(&["suspend-sink", "room", "1"]);
        thread::sleep(Duration::from_millis(100));
        server.pactl(&["suspend-sink", "room", "0"]);
        let limit = start.elapsed().as_secs_f64();
        let told = player.events_for(SECOND);
        println!("up to {limit:.3} s: {told:?}");
        // a busy machine makes shorter gaps of its own; the sink slept between the two commands, whose own time is not known
        let gaps: Vec<_> = told.iter().filter_map(|event| gap(event)).filter(|seconds| *seconds > 0.05).collect();
        let reopened = told.iter().any(|event| event.starts_with("BufferGrown"));
        assert!(matches!(gaps[..], [seconds] if seconds < limit) || reopened && gaps.is_empty(), "{gaps:?} told");
        grown.extend(told.into_iter().filter(|event| event.starts_with("BufferGrown")));
    }
    assert_eq!(grown.first().map(String::as_str), Some("BufferGrown { from: 512, to: 1024 }"));
    player.stop();
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn stopping_and_changing_the_device_make_no_click() {
    let server = Server::start();
    server.add_sink("hall");
    // a busy machine makes gaps of its own: up to five takes for one without
    let (samples, changes) = (0..5).find_map(|_| undisturbed(change_and_stop(&server))).expect("a take without gaps of the machine's own");
    // the third difference of a click is of the size of the click itself; the tone's own is what it is in most places
    let roughness = |samples: &[f32]| samples.windows(4).map(|w| (w[3] - 3.0 * w[2] + 3.0 * w[1] - w[0]).abs()).fold(0.0, f32::max);
    let mut usual: Vec<f32> = samples[..changes[0]].chunks(NEAR).map(roughness).collect();
    usual.sort_by(f32::total_cmp);
    let usual = usual[usual.len() / 2];
    assert!(usual > 0.0, "nothing was recorded");
    for (what, at) in ["leaving", "coming back", "stopping"].into_iter().zip(changes) {
        let most = roughness(&samples[at - NEAR..(at + NEAR).min(samples.len())]);
        println!("{what}: third difference {most}, in the tone {usual}");
        assert!(most < 1.5 * usual, "a click on {what}: {most} against {usual}");
    }
}

/// How far around a change a click is looked for, in samples.
const NEAR: usize = 2_000;

/// What `room` plays while the player leaves it, comes back and stops.
fn change_and_stop(server: &Server) -> Vec<f32> {
    let mut player = Player::start(server, "room");
    player.expect("Playing", 5 * SECOND);
    thread::sleep(2 * SECOND);
    let recording = server.record("room");
    thread::sleep(SECOND);
    player.order("use hall");
    player.expect("Playing", 5 * SECOND);
    player.order("use ROOM");
    player.expect("Playing", 5 * SECOND);
    thread::sleep(SECOND);
    player.stop();
    thread::sleep(SECOND / 2);
    recording.end()
}

/// A take and where the sound left, came back and stopped in it; nothing if there are more silences around than those.
fn undisturbed(samples: Vec<f32>) -> Option<(Vec<f32>, [usize; 3])> {
    let silences = silences(&samples, SHORTEST);
    let away = silences.iter().max_by_key(|silence| silence.len())?;
    let changes = [away.start, away.end, samples.iter().rposition(|sample| *sample != 0.0)?];
    let others = silences.iter().filter(|silence| *silence != away);
    let disturbed = others.flat_map(|silence| changes.map(|at| silence.start.abs_diff(at))).any(|distance| distance < 2 * NEAR);
    (!disturbed).then_some((samples, changes))
}
