//! The figures of the engine, as ratios within one run: `cargo bench`. With `--test` (or `-- --quick`) a smoke run of seconds.
//!
//! - how many times faster than real time the heaviest demo drill renders, and 32 voices
//! - how many full voices one core sings (16 harmonics, envelope, slide, place), by the instructions used
//! - the share of the callback's period the heaviest demo takes, at 64 and 256 frames: median, 99.9th percentile and worst, beside what an
//!   empty engine takes in the same run; by the thread's own CPU clock, so that a busy machine does not count
//! - the same with 64 voices, limiter and a microphone's tap over ten minutes of sound, which must stay within 2 % (p99.9) and 5 % (worst); each
//!   callback is made three times over and the least counts, because what other programs do to the caches is not ours
//! - the memory the engine takes without its voice, which must stay within 12 MiB
//! - from nothing to the first sample: engine built, plan compiled and loaded, voice decoded or not
//! - how long the plans of a 90-minute lesson take to compile, as a share of those 90 minutes

use engine::journal::Recipe;
use engine::speech::Pack;
use engine::{Bounce, Score};
use sequencer::plan::{Follow, PlannedSound, Sound};
use sequencer::{Cue, Drill, Plan, Room, TurnKind, compile};
use std::hint::black_box;
use std::sync::Arc;
use std::time::{Duration, Instant};
use synth::{Arithmetic, BLOCK, Band, Bus, ClipBank, Slide, Timbre, Tone};
use units::{FrameInstant, Gain, Hertz, SampleRate};

const RATE: SampleRate = SampleRate::DEFAULT;

struct Set {
    room: Room,
    pack: Pack,
    clips: Arc<ClipBank>,
    seconds: usize,
}

fn main() {
    let quick = std::env::args().any(|word| word == "--test" || word == "--quick");
    memory();
    let pack = Pack::builtin().expect("the pack is whole");
    let clips = Arc::new(ClipBank::new(pack.decode(RATE).expect("the clips are whole")));
    let set = Set { room: book::demo::room(), pack, clips, seconds: if quick { 4 } else { 120 } };
    println!("precentor figures at {} Hz, {} s of sound each{}", RATE.hz(), set.seconds, if quick { " (smoke run)" } else { "" });
    let heaviest = heaviest(&set.room);
    render_speed(&set, &heaviest);
    voices(&set);
    full_voices(&set);
    callbacks(&set, &heaviest, 64);
    callbacks(&set, &heaviest, 256);
    full_callback(&set, if quick { 10 } else { 600 });
    first_sample(&set, &heaviest);
    compile_time(&set);
}

/// What the engine takes, first of all: later nothing can be told apart.
fn memory() {
    let before = resident();
    let (mut controls, mut renderer) = engine::pair(RATE);
    let mut out = vec![0.0; 2 * BLOCK];
    for _ in 0..100 {
        renderer.fill(&mut out, 2);
        controls.poll();
    }
    let mib = resident().saturating_sub(before) as f64 / 1024.0;
    println!("memory: {:.1} MiB resident, of which the engine without its voice takes {mib:.1}", resident() as f64 / 1024.0);
    assert!(mib <= 12.0, "the engine takes {mib:.1} MiB");
}

/// The memory this program has resident, in KiB (proc_pid_statm(5), pages of 4 KiB); nothing where there is no such file.
fn resident() -> u64 {
    let pages = std::fs::read_to_string("/proc/self/statm").unwrap_or_default();
    pages.split_whitespace().nth(1).and_then(|pages| pages.parse::<u64>().ok()).unwrap_or(0) * 4
}

/// The demo drill with the most tones at once, everyone taking it.
fn heaviest(room: &Room) -> Plan {
    let plans = book::demo::drills().into_iter().map(|file| {
        let drill = Drill { groups: vec![sequencer::Group::Everyone], rounds: 200, ..file.drill };
        compile::drill(room, &drill).expect("the demo drills compile")
    });
    plans.max_by_key(|plan| plan.bars.iter().map(|bar| plan.sounds_of(bar).len()).max()).expect("there are drills")
}

fn score(set: &Set, plan: &Plan) -> Arc<Score> {
    Arc::new(Score::new(plan.clone(), &set.room, &set.pack, RATE))
}

/// A bar that never ends in which 64 tones sound at once: sixteen sections by four.
fn sixty_four_voices(set: &Set) -> Plan {
    let note = |pitch: &str| {
        format!(
            "version = 1\ntitle = \"Full\"\ntempo = 60\nmeter = \"4/4\"\n[line]\nall = {{ concert = \"{pitch}:4\" }}\n[[turn]]\nmodel = {{}}\n"
        )
    };
    let compiled = |pitch| book::read_drill("full", &note(pitch)).and_then(|file| file.compile(&set.room)).expect("a drill");
    let mut plan: Plan = compiled("F4");
    let tones = |plan: &Plan| -> Vec<PlannedSound> {
        let bar = plan.bars.iter().find(|bar| bar.turn == TurnKind::Model).expect("a model");
        plan.sounds_of(bar).iter().filter(|sound| matches!(sound.sound, Sound::Tone { .. })).copied().collect()
    };
    let mut sounds: Vec<PlannedSound> =
        ["F4", "A4", "C5", "Eb4", "G4", "Bb4", "D5"].iter().flat_map(|pitch| tones(&compiled(pitch))).collect();
    assert!(sounds.len() >= 64, "{} tones", sounds.len());
    sounds.truncate(64);
    plan.bars.retain(|bar| bar.turn == TurnKind::Model);
    plan.bars.truncate(1);
    for bar in &mut plan.bars {
        bar.sounds = 0..64;
        bar.follow = Follow::Jump(0);
        bar.station = 0;
    }
    plan.sounds = sounds;
    plan
}

/// The callback at its fullest: 64 frames, 64 voices, limiter and a tap that takes a microphone's samples.
fn full_callback(set: &Set, seconds: usize) {
    const FRAMES: usize = 64;
    let period = FRAMES as f64 / f64::from(RATE.hz());
    let plan = score(set, &sixty_four_voices(set));
    let once = || -> Vec<Duration> {
        let (mut controls, mut renderer) = engine::pair(RATE);
        controls.clips(Arc::clone(&set.clips));
        controls.load(Arc::clone(&plan), None, Recipe::default());
        controls.cue(Cue::Go);
        let (mut tap, mut tapped) = device::tap::tap(RATE, 1.0);
        let mut taken = Vec::with_capacity(FRAMES);
        let heard = [0.1_f32; FRAMES];
        let mut out = [0.0; 2 * FRAMES];
        let callbacks = (seconds * RATE.hz() as usize / FRAMES) as u64;
        let times = (0..callbacks).map(|callback| {
            let now = callback * FRAMES as u64 * 1_000_000_000 / u64::from(RATE.hz());
            let begun = cpu_time();
            renderer.fill(&mut out, 2);
            tap.take(&heard, 1, now);
            let time = cpu_time() - begun;
            controls.poll();
            taken.clear();
            tapped.read(&mut taken);
            time
        });
        times.collect()
    };
    let mut times = once();
    for _ in 0..2 {
        times.iter_mut().zip(once()).for_each(|(least, time)| *least = time.min(*least));
    }
    times.sort_unstable();
    let share = |at: f64| 100.0 * times[((times.len() - 1) as f64 * at) as usize].as_secs_f64() / period;
    let (median, high, worst) = (share(0.5), share(0.999), share(1.0));
    println!(
        "callback of {FRAMES} frames, 64 voices, limiter and tap, {seconds} s: median {median:.2} %, p99.9 {high:.2} %, worst {worst:.2} % \
         of its period"
    );
    if high > 2.0 || worst > 5.0 {
        println!("  MISSED: wanted p99.9 of 2 % and a worst of 5 %");
    }
}

/// What this thread has computed so far.
fn cpu_time() -> Duration {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    Duration::new(now.tv_sec as u64, now.tv_nsec as u32)
}

fn render_speed(set: &Set, plan: &Plan) {
    let mut bounce = Bounce::new(RATE, Arc::clone(&set.clips));
    bounce.controls.drone(Some((&set.room.drone, &set.room)));
    bounce.controls.load(score(set, plan), None, Recipe::default());
    bounce.controls.cue(Cue::Go);
    let blocks = set.seconds * RATE.hz() as usize / BLOCK;
    let begun = cpu_time();
    for _ in 0..blocks {
        bounce.block(&mut (), None, |frames| {
            black_box(frames);
        });
    }
    println!("heaviest demo with drone, offline: {:.0} times real time", set.seconds as f64 / (cpu_time() - begun).as_secs_f64());
}

fn voices(set: &Set) {
    let mut band = Band::new(RATE);
    let end = FrameInstant(u64::MAX);
    for number in 0..32_u32 {
        let timbre = Timbre::ALL[number as usize % 14];
        let frequency = Hertz::new(110.0 * f64::from(number + 4) / 4.0).expect("a frequency");
        band.tone(Tone {
            timbre,
            frequency,
            start: FrameInstant::ZERO,
            end,
            level: Gain::new(0.2),
            bus: Bus::Section(number as u8 % 16),
            slide: None,
        });
    }
    let blocks = set.seconds * RATE.hz() as usize / BLOCK;
    let mut out = [[0.0; 2]; BLOCK];
    let begun = cpu_time();
    for block in 0..blocks {
        band.render(FrameInstant((block * BLOCK) as u64), &set.clips, &mut out, None);
        black_box(&out);
    }
    println!("32 voices with limiter, offline: {:.0} times real time", set.seconds as f64 / (cpu_time() - begun).as_secs_f64());
}

/// Voices alone: what many cost more than few, so that mixer and limiter do not count.
fn full_voices(set: &Set) {
    let cost = |arithmetic: Arithmetic, count: u32| {
        let mut band = Band::with_arithmetic(RATE, arithmetic);
        for number in 0..count {
            // so high that just 16 harmonics are to be heard
            let hertz = |number: u32| Hertz::new(1280.0 + f64::from(number % 60)).expect("a frequency");
            band.tone(Tone {
                timbre: Timbre::Trumpet,
                frequency: hertz(number),
                start: FrameInstant::ZERO,
                end: FrameInstant(u64::MAX),
                level: Gain::new(0.2),
                bus: Bus::Section(number as u8 % 16),
                slide: Some(Slide { from: hertz(number + 7), length: RATE.span(set.seconds as f64) }),
            });
        }
        let mut out = [[0.0; 2]; BLOCK];
        let blocks = set.seconds.min(10) * RATE.hz() as usize / BLOCK;
        let begun = cpu_time();
        for block in 0..blocks {
            band.render(FrameInstant((block * BLOCK) as u64), &set.clips, &mut out, None);
            black_box(&out);
        }
        (cpu_time() - begun).as_secs_f64() * 1e9 / (blocks * BLOCK) as f64
    };
    for arithmetic in [Arithmetic::best(), Arithmetic::plain()] {
        let best = (0..5).map(|_| (cost(arithmetic, 80) - cost(arithmetic, 16)) / 64.0).fold(f64::MAX, f64::min);
        let per_core = 1e9 / best / f64::from(RATE.hz());
        println!("full voice, {}: {best:.2} ns a frame, {per_core:.0} voices on a core", arithmetic.name());
    }
}

fn callbacks(set: &Set, plan: &Plan, frames: usize) {
    let period = frames as f64 / f64::from(RATE.hz());
    let timed = |load: bool| {
        let (mut controls, mut renderer) = engine::pair(RATE);
        controls.clips(Arc::clone(&set.clips));
        if load {
            controls.drone(Some((&set.room.drone, &set.room)));
            controls.load(score(set, plan), None, Recipe::default());
            controls.cue(Cue::Go);
        }
        let mut out = vec![0.0; 2 * frames];
        let mut times: Vec<Duration> = (0..set.seconds * RATE.hz() as usize / frames)
            .map(|_| {
                let begun = cpu_time();
                renderer.fill(&mut out, 2);
                let time = cpu_time() - begun;
                controls.poll();
                time
            })
            .collect();
        times.sort_unstable();
        let share = |at: f64| 100.0 * times[((times.len() - 1) as f64 * at) as usize].as_secs_f64() / period;
        (share(0.5), share(0.999), share(1.0))
    };
    let (median, high, worst) = timed(true);
    let (empty, _, empty_worst) = timed(false);
    println!(
        "callback of {frames} frames, share of its period: median {median:.2} %, p99.9 {high:.2} %, worst {worst:.2} % \
         (empty engine: median {empty:.2} %, worst {empty_worst:.2} %)"
    );
}

fn first_sample(set: &Set, plan: &Plan) {
    let ready = score(set, plan);
    let begun = Instant::now();
    let (mut controls, mut renderer) = engine::pair(RATE);
    let built = begun.elapsed();
    controls.drone(Some((&set.room.drone, &set.room)));
    controls.load(ready, None, Recipe::default());
    let mut out = vec![0.0; 2 * BLOCK];
    while out.iter().all(|sample| *sample == 0.0) {
        renderer.fill(&mut out, 2);
    }
    let sounded = begun.elapsed();
    let begun = Instant::now();
    black_box(set.pack.decode(RATE).expect("the clips are whole"));
    let decoded = begun.elapsed();
    println!(
        "cold start: engine built in {:.2} ms, first sample of a drone after {:.2} ms; the voice is decoded beside it in {:.0} ms",
        built.as_secs_f64() * 1e3,
        sounded.as_secs_f64() * 1e3,
        decoded.as_secs_f64() * 1e3
    );
}

fn compile_time(set: &Set) {
    let bars_of = |plan: &Plan| plan.bars.len() as f64 * f64::from(plan.meter.beats()) * 60.0 / plan.tempo.bpm();
    let begun = Instant::now();
    let (mut seconds, mut plans) = (0.0, 0);
    while seconds < 90.0 * 60.0 {
        for (_, text) in book::demo::DRILLS {
            let file = book::read_drill("demo", text).expect("the demo drills are whole");
            let plan = file.compile(&set.room).expect("the demo drills compile");
            seconds += bars_of(&plan);
            plans += 1;
            black_box(score(set, &plan));
        }
    }
    let spent = begun.elapsed().as_secs_f64();
    println!("a 90-minute lesson's worth of drills ({plans} plans) read, compiled and made ready in {:.1} ms", spent * 1e3);
}
