//! Every kind of failure of a sound server, again and again, under one program and one console. A short one runs with the other tests; the
//! full one, 100 kills and 20 of each other kind in some fifteen minutes, by
//! `PRECENTOR_FAULTS=20 cargo test --test tests device::many_faults -- --ignored --nocapture`.

use std::thread;
use std::time::{Duration, Instant};

use super::player::Player;
use super::server::Server;
use super::sine::silences;
use crate::console::{console, place};

const SECOND: Duration = Duration::from_secs(1);
const MS: Duration = Duration::from_millis(1);
/// How soon sound must be back, for 95 of a hundred.
const BACK: Duration = Duration::from_millis(100);
/// The buffer asked for: the machine's own stalls must not count.
const FRAMES: u32 = 2048;
/// Longer than what is in the buffers, shorter than what counts as a loss.
const STALL: Duration = Duration::from_millis(180);

/// Times until sound was back, by what had happened.
struct Times {
    what: &'static str,
    back: Vec<Duration>,
}

impl Times {
    fn new(what: &'static str) -> Self {
        Self { what, back: Vec::new() }
    }

    /// Tells them and returns the time of 95 of a hundred.
    fn tell(&mut self) -> Duration {
        self.back.sort();
        let at = |share: f64| self.back[((self.back.len() - 1) as f64 * share).round() as usize];
        println!(
            "{:>9} {:4} times: sound back after {:.0?} (median), {:.0?} (p95), {:.0?} (worst)",
            self.what,
            self.back.len(),
            at(0.5),
            at(0.95),
            at(1.0)
        );
        at(0.95)
    }
}

/// How long after `since` the sound was back for good, as the player's frames and events say: it may stay away for a moment, or be lost and
/// return.
fn back_since(player: &mut Player, since: Instant) -> Duration {
    let first = player.frames.len().saturating_sub(1);
    let deadline = Instant::now() + 700 * MS;
    while let Some((_, event)) = player.event(deadline.saturating_duration_since(Instant::now())) {
        if event.starts_with("Lost") {
            return player.expect("Returned", 8 * SECOND).0.saturating_duration_since(since);
        }
        assert!(["Gap", "Moved", "BufferGrown", "Playing"].iter().any(|usual| event.starts_with(usual)), "{event}");
    }
    // the frames are told every 20 ms and move on by a buffer at a time
    let mut moved: Vec<Instant> = vec![since];
    moved.extend(player.frames[first..].windows(2).filter(|pair| pair[1].1 > pair[0].1).map(|pair| pair[1].0).filter(|at| *at > since));
    let stall = moved.windows(2).max_by_key(|pair| pair[1] - pair[0]).expect("the frames go on");
    if stall[1] - stall[0] > 2 * SECOND * FRAMES / 48_000 + 20 * MS { stall[1] - since } else { Duration::ZERO }
}

/// What `sink` plays in the next moment, and that it is the player's A.
fn hear(server: &Server, sink: &str) {
    let recording = server.record(sink);
    let deadline = Instant::now() + 5 * SECOND;
    while recording.length() < 24_000 {
        assert!(Instant::now() < deadline, "nothing can be recorded from {sink}");
        thread::sleep(20 * MS);
    }
    let samples = recording.end();
    let sounding = samples.iter().filter(|sample| sample.abs() > 1e-4).count();
    assert!(sounding > samples.len() / 4, "{sounding} of {} samples sound in {sink}", samples.len());
}

/// Seconds of processor the program has used.
fn processor_time(process: u32) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap();
    let fields: Vec<&str> = stat.rsplit(')').next().unwrap().split_whitespace().collect();
    // utime and stime, in hundredths (proc_pid_stat(5))
    (fields[11].parse::<f64>().unwrap() + fields[12].parse::<f64>().unwrap()) / 100.0
}

#[test]
#[ignore = "needs tmux and a private sound server; run by .ci/run"]
fn sound_comes_back_and_the_place_is_kept_whatever_befalls_the_server() {
    let times: usize = std::env::var("PRECENTOR_FAULTS").ok().and_then(|times| times.parse().ok()).unwrap_or(1);
    let server = Server::start();
    let mut player = Player::start_with_frames(&server, FRAMES);
    player.expect("Playing", 5 * SECOND);
    let terminal = console(&server, "precentor lead room.toml --buffer 2048");
    let console = terminal.program();
    terminal.key("Space");
    terminal.shows("LISTEN )))");
    thread::sleep(SECOND);
    let mut worst = Duration::ZERO;

    let mut kills = Times::new("killed");
    for kill in 0..times * 5 {
        // the console plays on from its place for the first few, then keeps to it
        let playing = kill < 5;
        let before = if playing { place(&terminal.shows("LISTEN )))")) } else { place(&terminal.shows("HELD")) };
        server.script("kill");
        kills.back.push(player.lost_and_back(4 * SECOND, || {
            // from hardly down to longer than a service manager takes
            thread::sleep(MS * (kill as u32 * 137 % 600));
            server.restart()
        }));
        let back = terminal.wait("the sound", |screen| screen.contains("SOUND on room") && screen.contains("HELD"));
        assert_eq!(place(&back), before, "the place after kill {kill}");
        if playing && kill + 1 < 5 {
            terminal.key("Space");
            terminal.wait("the pulse", |screen| !screen.contains("HELD"));
        }
        // a stream that lives for two seconds is a good one
        player.events_for(2_200 * MS);
    }
    worst = worst.max(kills.tell());
    // by now every thread the sound library makes has had its own room
    let resident = super::resident(player.process());
    hear(&server, "room");
    let held = place(&terminal.shows("HELD"));

    let mut hangs = Times::new("hung");
    for hang in 0..times {
        server.script("hang");
        hangs.back.push(player.lost_and_back(5 * SECOND, || {
            thread::sleep(MS * (100 + hang as u32 * 271 % 1_500));
            server.script("wake");
            Instant::now()
        }));
        player.events_for(2_200 * MS);
    }
    worst = worst.max(hangs.tell());
    hear(&server, "room");

    let mut suspensions = Times::new("suspended");
    for suspension in 0..times {
        server.pactl(&["suspend-sink", "room", "1"]);
        suspensions.back.push(player.lost_and_back(5 * SECOND, || {
            thread::sleep(MS * (100 + suspension as u32 * 173 % 1_000));
            server.pactl(&["suspend-sink", "room", "0"]);
            Instant::now()
        }));
        player.events_for(2_200 * MS);
    }
    worst = worst.max(suspensions.tell());
    hear(&server, "room");

    let (mut switches, mut rates, mut unloads) = (Times::new("switched"), Times::new("new rate"), Times::new("unloaded"));
    for round in 0..times {
        let hall = server.add_sink("hall");
        server.pactl(&["set-default-sink", "hall"]);
        switches.back.push(back_since(&mut player, Instant::now()));
        hear(&server, "hall");
        server.pactl(&["unload-module", &hall]);
        unloads.back.push(back_since(&mut player, Instant::now()));
        hear(&server, "room");
        let other = server.add_sink_at("hall", [44_100, 96_000, 32_000][round % 3]);
        server.pactl(&["set-default-sink", "hall"]);
        rates.back.push(back_since(&mut player, Instant::now()));
        hear(&server, "hall");
        server.pactl(&["set-default-sink", "room"]);
        player.events_for(500 * MS);
        server.pactl(&["unload-module", &other]);
        player.events_for(SECOND);
    }
    worst = worst.max(switches.tell()).max(unloads.tell()).max(rates.tell());

    // every gap is counted: the server stands still for longer than what it has in hand lasts, and the loudspeaker is recorded
    player.events_for(2 * SECOND);
    let recording = server.record("room");
    thread::sleep(500 * MS);
    let mut told = Vec::new();
    for _ in 0..times {
        server.script("hang");
        thread::sleep(STALL);
        server.script("wake");
        told.extend(player.events_for(2 * SECOND));
    }
    let silent: Vec<usize> = silences(&recording.end(), 48).iter().map(ExactSizeIterator::len).collect();
    let gaps: Vec<f64> = told.iter().filter_map(|event| super::gap(event)).collect();
    let (heard, counted) = (silent.iter().sum::<usize>() as f64 / 48.0, 1_000.0 * gaps.iter().sum::<f64>());
    println!("  stalled {times:4} times: {} gaps of {heard:.0} ms heard, {} of {counted:.0} ms told", silent.len(), gaps.len());
    assert!(silent.len() >= times, "only {} gaps were heard", silent.len());
    assert!(gaps.len() >= times && counted >= 0.9 * heard && counted <= 1.1 * heard + 5.0, "{told:?} for {silent:?}");

    // with no server it searches and costs next to nothing
    server.script("kill");
    player.expect("Lost", SECOND);
    let busy = processor_time(player.process());
    player.events_for(5 * SECOND);
    let busy = (processor_time(player.process()) - busy) / 5.0;
    server.restart();
    player.expect("Returned", 4 * SECOND);
    let grown = super::resident(player.process()).saturating_sub(resident);
    println!("{:.1} % of a processor while lost; memory grew by {grown} KiB", 100.0 * busy);
    assert!(busy < 0.05, "{busy} of a processor while lost");
    // threads come and go, and the allocator keeps a little room for each it has seen
    assert!(grown < 16 * 1024, "memory grew by {grown} KiB");

    // the console is as it was, its screen untouched by anybody else
    assert_eq!(terminal.program(), console, "the same process");
    let screen = terminal.wait("the sound", |screen| screen.contains("SOUND on room"));
    assert_eq!(place(&screen), held, "the place");
    thread::sleep(10 * SECOND);
    let before = terminal.screen();
    // another size and back: everything is drawn anew, and what others had written would be gone
    terminal.resize((101, 31));
    thread::sleep(200 * MS);
    terminal.resize((100, 30));
    terminal.wait("the same screen drawn anew", |screen| screen == before);

    // both end at once while the server hangs
    server.script("hang");
    thread::sleep(50 * MS);
    let stopped = player.stop();
    let quitting = Instant::now();
    terminal.key("C-c");
    while std::path::Path::new(&format!("/proc/{console}")).exists() && quitting.elapsed() < 5 * SECOND {
        thread::sleep(MS);
    }
    let quit = quitting.elapsed();
    server.script("wake");
    println!("while the server hung, the sound stopped in {stopped} ms and the console was gone {quit:.0?} after the key");
    assert_eq!(terminal.left_with(), 0);
    assert!(stopped < 200 && quit < 200 * MS, "{stopped} ms, {quit:?}");
    assert!(worst <= BACK, "sound was back after {worst:?}");
}
