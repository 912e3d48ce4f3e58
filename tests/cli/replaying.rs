//! Replay: a run with anything happening at any moment, played again from its journal.

use super::{Desk, samples};
use engine::journal::{self, Deed, Entry};
use engine::{Controls, Dial, pair};
use precentor::cli::replay::Replay;
use precentor::workshop::{Choice, DrillText, Files, LessonText, PieceText, RoomText, Workshop};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use sequencer::{Cue, Drone, Registers, StackTone};
use std::cell::Cell;
use synth::Bus;
use units::{FrameSpan, Gain, SampleRate, Tempo};

const RATE: SampleRate = SampleRate::DEFAULT;
const PROGRAM: &str = concat!("precentor ", env!("CARGO_PKG_VERSION"));

/// What may happen in a run.
#[derive(Clone, Debug)]
enum Happening {
    Cue(usize),
    Load { choice: usize, place: Option<(u32, f64)> },
    Amend { tempo: u32 },
    Queue { choice: Option<usize>, within: Option<u64> },
    Drone(Option<(usize, bool)>),
    Level { dial: usize, gain: f32 },
    Voice,
    Say(usize),
    Halt,
    Fault,
}

fn happening() -> impl Strategy<Value = Happening> {
    prop_oneof![
        6 => (0..Cue::ALL.len()).prop_map(Happening::Cue),
        2 => (prop::option::of(0..6_usize), prop::option::of(0..200_000_u64)).prop_map(|(choice, within)| Happening::Queue { choice, within }),
        2 => (0..6_usize, prop::option::of((0..20_u32, 60.0..180.0))).prop_map(|(choice, place)| Happening::Load { choice, place }),
        1 => (60..200_u32).prop_map(|tempo| Happening::Amend { tempo }),
        2 => prop::option::of((0..3_usize, any::<bool>())).prop_map(Happening::Drone),
        2 => (0..29_usize, 0.0..1.0_f32).prop_map(|(dial, gain)| Happening::Level { dial, gain }),
        1 => Just(Happening::Voice),
        1 => (0..sequencer::words::REMARKS.len()).prop_map(Happening::Say),
        1 => Just(Happening::Halt),
        1 => Just(Happening::Fault),
    ]
}

/// Some happenings, each so many frames of device time after the one before, and the sizes of the device's buffers.
fn run() -> impl Strategy<Value = (Vec<(usize, Happening)>, Vec<usize>)> {
    (prop::collection::vec((0..60_000_usize, happening()), 1..25), prop::collection::vec(1..2000_usize, 1..8))
}

fn choice(number: usize) -> Choice {
    match number {
        0 => Choice::Drill,
        1 => Choice::Roll { section: "Horns".to_owned() },
        2 => Choice::Landmarks { section: "Horns".to_owned() },
        3 => Choice::Climb { passage: None },
        4 => Choice::Item { number: 0 },
        _ => Choice::InTurn { concert: "F4".parse().unwrap() },
    }
}

fn room() -> RoomText {
    RoomText::new("room.toml", super::ROOM.to_owned())
}

fn drill(tempo: u32) -> DrillText {
    DrillText::new("drill.toml", super::DRILL.replace("tempo = 120", &format!("tempo = {tempo}")))
}

/// Everything any choice is made from: a drill, a piece of two bars, and a lesson that holds a drone for a second or two.
fn files(tempo: u32) -> Files {
    let piece = "version = 1\ntitle = \"Short\"\ntempo = 200\nbars = 2\npickup = 1\n";
    let lesson = "version = 1\ntitle = \"Tuesday\"\n[[item]]\ndrone = { concert = \"F3\" }\nminutes = 1\nadvance = \"by itself\"\n";
    Files {
        drill: Some(drill(tempo)),
        piece: Some(PieceText::new("piece.toml", piece)),
        lesson: Some(LessonText::new("lesson.toml", lesson)),
    }
}

fn happen(controls: &mut Controls, workshop: &Workshop, happening: &Happening) {
    match *happening {
        Happening::Cue(number) => controls.cue(Cue::ALL[number]),
        Happening::Load { choice: number, place } => {
            let made = workshop.make(&choice(number), &room(), &files(120)).unwrap();
            controls.load(made.score, place.map(|(bar, bpm)| (bar, Tempo::new(bpm).unwrap())), made.recipe);
        }
        Happening::Amend { tempo } => {
            let made = workshop.make(&Choice::Drill, &room(), &Files::drill(drill(tempo))).unwrap();
            controls.amend(made.score, made.recipe);
        }
        Happening::Queue { choice: number, within } => {
            let made = number.map(|number| workshop.make(&choice(number), &room(), &files(120)).unwrap());
            controls.queue(made.map(|made| (made.score, made.recipe)), within.map(FrameSpan));
        }
        Happening::Drone(None) => controls.drone(None),
        Happening::Drone(Some((root, just))) => {
            let temperament = if just { pitch::Temperament::Just } else { pitch::Temperament::Equal };
            let stack = vec![StackTone::Root, StackTone::Fifth, StackTone::Free("D5".parse().unwrap())];
            let root = ["Bb3", "F3", "C#4"][root].parse().unwrap();
            let class = room().read().unwrap();
            controls.drone(Some((&Drone { root, stack, temperament, registers: Registers::Room }, &class)));
        }
        Happening::Level { dial, gain } => {
            let dial = std::iter::once(Dial::Master).chain(Bus::all().map(Dial::Bus)).nth(dial).unwrap();
            controls.set_level(dial, Gain::new(gain));
        }
        Happening::Voice => controls.clips(workshop.clips().unwrap()),
        Happening::Say(word) => controls.say(sequencer::words::remark([sequencer::words::REMARKS[word]]).unwrap()),
        Happening::Halt => controls.halt("the plug was pulled"),
        Happening::Fault => controls.note_fault("a gap"),
    }
}

/// A run through a device with buffers of any size: what it sounded like from the engine's frame zero on, and its journal.
fn live(workshop: &Workshop, happenings: &[(usize, Happening)], buffers: &[usize]) -> (Vec<[f32; 2]>, String) {
    let (mut controls, mut renderer) = pair(RATE);
    let mut out: Vec<f32> = Vec::new();
    let mut entries: Vec<Entry> = Vec::new();
    let mut buffers = buffers.iter().cycle();
    let mut fill = |controls: &mut Controls, frames: usize, out: &mut Vec<f32>| {
        let end = out.len() + 2 * frames;
        while out.len() < end {
            let start = out.len();
            out.resize(start + 2 * buffers.next().unwrap(), 0.0);
            renderer.fill(&mut out[start..], 2);
            controls.poll();
            entries.extend(controls.take_entries());
        }
        renderer.now()
    };
    controls.clips(workshop.clips().unwrap());
    for (wait, happening) in happenings {
        fill(&mut controls, *wait, &mut out);
        happen(&mut controls, workshop, happening);
    }
    let now = fill(&mut controls, 48_000, &mut out);
    entries.push(Entry { frame: now.0, deed: Deed::End });
    let journal = journal::head_line(RATE, PROGRAM) + &entries.iter().map(journal::entry_line).collect::<String>();
    let latency = pair(RATE).1.latency().0 as usize;
    (out.chunks(2).skip(latency).map(|frame| [frame[0], frame[1]]).collect(), journal)
}

#[test]
fn any_run_is_played_again_to_the_last_bit() {
    let workshop = Workshop::new(RATE);
    let clips = workshop.clips().unwrap();
    let config = Config { cases: 24, failure_persistence: None, ..Config::default() };
    let sounding = Cell::new(0);
    TestRunner::new(config)
        .run(&run(), |(happenings, buffers)| {
            let (live, text) = live(&workshop, &happenings, &buffers);
            let (head, entries) = journal::read(&text).unwrap();
            prop_assert_eq!(head.rate, RATE.hz());
            let mut again = Vec::new();
            let mut replay = Replay::new(&workshop, clips.clone(), &entries);
            while replay.block(|frames| again.extend_from_slice(frames)).unwrap() {}
            // the device had not yet played the last frames the engine had made, and the limiter holds some back
            let heard = live.len().min(again.len());
            prop_assert!(heard + 4096 > again.len(), "{} {}", live.len(), again.len());
            let differs = (0..heard).find(|frame| live[*frame].map(f32::to_bits) != again[*frame].map(f32::to_bits));
            prop_assert_eq!(differs, None);
            sounding.set(sounding.get() + usize::from(again.iter().any(|frame| frame[0] != 0.0)));
            Ok(())
        })
        .unwrap();
    assert!(sounding.get() > 4, "only {} runs made a sound", sounding.get());
}

#[test]
fn a_remark_is_said_again_on_its_frame() {
    let workshop = Workshop::new(RATE);
    let text = super::DRILL.replace("echo = {}", "rest = { bars = 2 }");
    let made = workshop.make(&Choice::Drill, &room(), &Files::drill(DrillText::new("drill.toml", text))).unwrap();
    let (mut controls, mut renderer) = pair(RATE);
    controls.clips(workshop.clips().unwrap());
    controls.load(made.score, None, made.recipe);
    controls.cue(Cue::Go);
    let mut out = vec![0.0; 2 * 480_000];
    for (turn, buffer) in out.chunks_mut(2 * 480).enumerate() {
        // bars of two seconds: a count, a model, and a rest of two
        if turn == 450 {
            controls.say(sequencer::words::remark(["too_high"]).unwrap());
        }
        renderer.fill(buffer, 2);
        controls.poll();
    }
    let mut entries = controls.take_entries();
    assert_eq!(entries.iter().filter(|entry| matches!(&entry.deed, Deed::Say { words } if words == &["too_high"])).count(), 1);
    entries.push(Entry { frame: renderer.now().0, deed: Deed::End });
    let journal = journal::head_line(RATE, PROGRAM) + &entries.iter().map(journal::entry_line).collect::<String>();
    let (_, entries) = journal::read(&journal).unwrap();
    let mut replay = Replay::new(&workshop, workshop.clips().unwrap(), &entries);
    let mut again = Vec::new();
    while replay.block(|frames| again.extend_from_slice(frames)).unwrap() {}
    let latency = renderer.latency().0 as usize;
    let live: Vec<[f32; 2]> = out.chunks(2).skip(latency).map(|frame| [frame[0], frame[1]]).collect();
    let heard = live.len().min(again.len());
    assert!(heard > 470_000 && live[..heard] == again[..heard]);
    // it was said: the rest is silent but for it
    assert!(live[220_000..300_000].iter().any(|frame| frame[0].abs() > 0.02));
}

#[test]
fn the_command_writes_the_run_to_a_file() {
    let desk = Desk::new();
    let workshop = Workshop::new(RATE);
    let happenings = [
        (0, Happening::Load { choice: 0, place: None }),
        (1000, Happening::Drone(Some((0, true)))),
        (5000, Happening::Cue(0)),
        (150_000, Happening::Cue(7)),
        (30_000, Happening::Amend { tempo: 90 }),
        (200_000, Happening::Cue(2)),
        (90_000, Happening::Cue(6)),
    ];
    assert_eq!([0, 7, 2, 6].map(|cue| Cue::ALL[cue]), [Cue::Go, Cue::Louder, Cue::Again, Cue::Hush]);
    let (live, journal) = live(&workshop, &happenings, &[441, 512]);
    desk.write("run.jsonl", &journal);
    let told = desk.done(&["replay", "run.jsonl", "-o", "run.wav"]);
    assert!(told.starts_with("wrote run.wav: ") && told.contains("entries of run.jsonl"), "{told}");
    let (again, channels, rate) = samples(&desk.path("run.wav"));
    assert_eq!((channels, rate), (2, 48_000));
    let heard = live.len().min(again.len() / 2);
    assert!(heard > 400_000 && again[..2 * heard] == *live[..heard].as_flattened());
    assert!(again.iter().any(|sample| sample.abs() > 0.02));
    assert!(desk.refused(&["replay", "run.jsonl", "-o", "run.wav"]).contains("run.wav is there already"));
    desk.done(&["replay", "run.jsonl", "-o", "run.wav", "--force"]);
}

#[test]
fn a_journal_cut_off_by_a_power_failure_is_played_as_far_as_it_goes() {
    let desk = Desk::new();
    let (_, journal) = live(&Workshop::new(RATE), &[(0, Happening::Load { choice: 3, place: None }), (500, Happening::Cue(0))], &[512]);
    let end = journal.rfind("{\"frame\"").unwrap();
    desk.write("run.jsonl", &journal[..end + 10]);
    desk.done(&["replay", "run.jsonl", "-o", "run.wav"]);
    let (again, ..) = samples(&desk.path("run.wav"));
    let last = journal::read(&journal).unwrap().1.iter().rev().nth(1).unwrap().frame;
    assert_eq!(again.len() as u64 / 2, last + 10 * 48_000);
}

#[test]
fn what_is_no_journal_is_refused() {
    let desk = Desk::new();
    let head = journal::head_line(RATE, PROGRAM);
    let refused = |text: &str| {
        desk.write("run.jsonl", text);
        let said = desk.refused(&["replay", "run.jsonl", "-o", "run.wav"]);
        assert_eq!(desk.made(), ["run.jsonl"], "nothing is written");
        said
    };
    assert!(refused("").contains("the journal is empty"));
    assert!(refused("version = 1\n").contains("this is no journal"));
    assert!(refused(&format!("{head}{{\"frame\":64,\"do\":\"cue\",\"cue\":\"jump\"}}\n")).contains("frame 64 says \"jump\""));
    assert!(refused(&format!("{head}{{\"frame\":64,\"do\":\"voice\"}}\n{{\"frame\":0,\"do\":\"end\"}}\n")).contains("goes back in time"));
    assert!(refused(&format!("{head}{{\"frame\":99999999999999,\"do\":\"end\"}}\n")).contains("longer than a WAV file holds"));
    let recipe = "{\"kind\":\"drill\",\"room\":\"\",\"drill\":\"\"}";
    let said = refused(&format!("{head}{{\"frame\":0,\"do\":\"load\",\"recipe\":{recipe},\"place\":null}}\n"));
    assert!(said.contains("run.jsonl cannot be played again") && said.contains("the room in the journal"), "{said}");
    assert!(desk.refused(&["replay", "run.josnl", "-o", "run.wav"]).contains("there is no such file"));
    assert!(desk.refused(&["replay", "home", "-o", "run.wav"]).contains("mend"));
}

#[test]
fn a_run_of_another_version_is_told_of() {
    let desk = Desk::new();
    desk.write("run.jsonl", journal::head_line(RATE, "precentor 0.0.1") + "{\"frame\":6400,\"do\":\"end\"}\n");
    let run = desk.run(&["replay", "run.jsonl", "-o", "run.wav"]);
    assert_eq!(run.code, 0);
    assert!(run.err.contains("made by precentor 0.0.1"), "{}", run.err);
}
