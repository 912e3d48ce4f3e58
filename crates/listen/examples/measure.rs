//! Measures hearing on folders of clips made by `benches/listening/clips.py`, a row a folder:
//!
//!     cargo run --release -p listen --example measure -- FOLDER...
//!
//! - frames: those in the sustain of a note, right within 50 cents, without an answer, an octave off
//! - told: notes told in clips of one note; right: their pitch within 50 cents; more: notes told besides the one that was played
//! - cents: error of right notes, median, 95th percentile, worst
//! - pitch after: from the true beginning to the first of five right pitches in a row, at 10 dB and better, in ms
//! - entry: error of its time about its mean, in ms
//! - partial (brass): the partial named, for the note played and for one asked two partials away; and right from 120 ms on
//! - false: notes told where nobody played, a minute

use listen::{Heard, Note, Place, Player, Verdict};
use pitch::{Instrument, Tuning};
use serde_json::Value;
use std::error::Error;
use std::path::Path;
use std::time::{Duration, Instant};
use units::{Cents, Hertz, SampleRate};

type Fallible<T> = Result<T, Box<dyn Error>>;

#[derive(Default)]
struct Row {
    clips: usize,
    seconds: f64,
    spent: Duration,
    frames: usize,
    right: usize,
    none: usize,
    octave: usize,
    told: usize,
    told_right: usize,
    more: usize,
    cents: Vec<f64>,
    latencies: Vec<f64>,
    entries: Vec<f64>,
    after: Vec<f64>,
    brass: usize,
    partials: usize,
    early: usize,
    false_notes: usize,
}

fn main() -> Fallible<()> {
    for folder in std::env::args().skip(1) {
        let row = measure(Path::new(&folder))?;
        print(&folder, row);
    }
    Ok(())
}

fn number(truth: &Value, key: &str) -> Fallible<f64> {
    truth[key].as_f64().ok_or_else(|| format!("no {key} in the truth").into())
}

fn measure(folder: &Path) -> Fallible<Row> {
    let mut row = Row::default();
    let table = std::fs::read_to_string(folder.join("truth.jsonl"))?;
    let pitched: Vec<_> = Instrument::all().iter().filter(|i| i.family() != pitch::Family::Percussion).collect();
    for (index, line) in table.lines().enumerate() {
        let truth: Value = serde_json::from_str(line)?;
        let mut wav = hound::WavReader::open(folder.join(truth["file"].as_str().ok_or("no file")?))?;
        let sound = wav.samples::<i16>().map(|s| s.map(|s| f32::from(s) / 32768.0)).collect::<Result<Vec<_>, _>>()?;
        let rate = SampleRate::new(wav.spec().sample_rate)?;
        row.clips += 1;
        if std::env::var_os("GATE").is_some() {
            println!("FILE {truth}");
        }
        match truth["instrument"].as_str() {
            Some(name) => one_note(&mut row, Instrument::find(name)?, rate, &sound, &truth)?,
            None => {
                let others: usize = std::env::var("EACH").ok().and_then(|n| n.parse().ok()).unwrap_or(1);
                for n in 0..others {
                    nobody(&mut row, pitched[(index + 7 * n) % pitched.len()], rate, &sound, &truth)?;
                }
            }
        }
    }
    Ok(row)
}

fn nobody(row: &mut Row, instrument: &'static Instrument, rate: SampleRate, sound: &[f32], truth: &Value) -> Fallible<()> {
    let mut player = Player::new(instrument, rate, Tuning::default())?;
    row.seconds += sound.len() as f64 / f64::from(rate.hz());
    let begun = Instant::now();
    player.hear(sound, |heard| {
        if let Heard::Note(note) = heard {
            row.false_notes += 1;
            if std::env::var_os("TELL").is_some() {
                let at = player_seconds(note.entry.0, rate);
                println!(
                    "  {}: {} told {:.1} Hz at {at:.2} s, confidence {:.2}",
                    truth["file"],
                    instrument.id(),
                    note.frequency.hz(),
                    note.confidence
                );
            }
        }
    });
    row.spent += begun.elapsed();
    Ok(())
}

fn player_seconds(frames: u64, rate: SampleRate) -> f64 {
    frames as f64 / f64::from(rate.hz())
}

fn one_note(row: &mut Row, instrument: &'static Instrument, rate: SampleRate, sound: &[f32], truth: &Value) -> Fallible<()> {
    let mut player = Player::new(instrument, rate, Tuning::default())?;
    let wanted = Hertz::new(number(truth, "frequency")?)?;
    let (t10, t90, end) = (number(truth, "t10")?, number(truth, "t90")?, number(truth, "tone_end")?);
    let mut frames = Vec::new();
    let mut notes: Vec<(f64, Note)> = Vec::new();
    let begun = Instant::now();
    let mut upto = 0.0;
    player.hear(sound, |heard| match heard {
        Heard::Frame(frame) => {
            upto = player_seconds(frame.upto.0, rate);
            let off = frame.tone.map(|tone| tone.frequency.cents_above(wanted).0);
            frames.push((player_seconds(frame.at.0, rate), upto, off));
        }
        Heard::Note(note) => notes.push((upto, note)),
        Heard::Over(_) => {}
    });
    let answer = player.answer();
    if answer == Verdict::Nothing && std::env::var_os("TELL").is_some() {
        println!("  {truth}: nothing");
    }
    row.spent += begun.elapsed();
    row.seconds += sound.len() as f64 / f64::from(rate.hz());
    for (_, _, off) in frames.iter().filter(|(at, ..)| (t90 + 0.02..end - 0.1).contains(at)) {
        row.frames += 1;
        match off {
            None => row.none += 1,
            Some(off) if off.abs() <= 50.0 => row.right += 1,
            Some(off) => row.octave += usize::from((off / 1200.0 - (off / 1200.0).round()).abs() < 0.05),
        }
    }
    let right = |off: &Option<f64>| off.is_some_and(|off| off.abs() <= 50.0);
    let first = frames.windows(5).find(|five| five[0].1 > t10 && five.iter().all(|frame| right(&frame.2)));
    if number(truth, "snr")? >= 10.0 {
        row.latencies.push(first.map_or(2000.0, |five| 1000.0 * (five[0].1 - t10)));
    }
    row.more += notes.len().saturating_sub(1);
    let brass = instrument.open_partial(2).is_some();
    row.brass += usize::from(brass);
    if brass {
        // partial: of the true note, a right pitch names the right partial
        let due = frames.iter().find(|frame| frame.1 >= t10 + 0.120);
        row.early += usize::from(due.is_some_and(|frame| right(&frame.2)));
    }
    if let Verdict::Note(note) = answer {
        row.told += 1;
        let off = note.frequency.cents_above(wanted).0;
        if off.abs() <= 50.0 {
            row.told_right += 1;
            let clean = sounded(truth, &note, rate).unwrap_or(wanted);
            let off = note.frequency.cents_above(clean).0;
            row.cents.push(off.abs());
            row.entries.push(1000.0 * (player_seconds(note.entry.0, rate) - t10));
        }
        if let Some((told, _)) = notes.first() {
            row.after.push(1000.0 * (told - t10));
        }
        if brass {
            row.partials += usize::from(partials_right(wanted, note.frequency));
        }
        if std::env::var_os("TELL").is_some() && off.abs() > 50.0 {
            println!("  {line}: {off:.0} cents", line = truth);
        }
        if std::env::var_os("ENTRIES").is_some() {
            println!(
                "ENTRY {} {} {} {:.2} {} {off:.2} {} {}",
                truth["instrument"].as_str().unwrap_or_default(),
                truth["room"],
                wanted.hz(),
                1000.0 * (player_seconds(note.entry.0, rate) - t10),
                truth["snr"],
                truth["font"],
                truth["velocity"]
            );
        }
    }
    Ok(())
}

/// The median of the clean tone's pitch while the note was heard.
fn sounded(truth: &Value, note: &Note, rate: SampleRate) -> Option<Hertz> {
    let (track, from) = (truth["track"].as_array()?, truth["track_from"].as_f64()?);
    let begin = player_seconds(note.entry.0, rate) + 0.15 - from;
    let end = player_seconds(note.entry.0 + note.length.0, rate) - from;
    let point = |seconds: f64| (20.0 * seconds).round().max(0.0) as usize;
    let mut heard: Vec<f64> = track.iter().skip(point(begin)).take(point(end) - point(begin)).filter_map(Value::as_f64).collect();
    Hertz::new(part(&mut heard, 0.5)).ok()
}

/// Whether partials 2 to 12 of every fingering that has the true note on them are told rightly of the pitch heard.
fn partials_right(truth: Hertz, heard: Hertz) -> bool {
    (2..=12_u8).all(|sounding| {
        (2..=12_u8).filter(|asked| *asked != sounding).all(|asked| {
            let asked_for = truth.moved(Cents(1200.0 * (f64::from(asked) / f64::from(sounding)).log2()));
            let fingering = pitch::Fingering { text: "0", partial: asked, lowered: 0, side: None };
            listen::place::place(asked_for, Some(fingering), heard).place == Place::Partial { heard: sounding, wanted: asked }
        })
    })
}

fn part(list: &mut [f64], share: f64) -> f64 {
    list.sort_by(f64::total_cmp);
    list.get(((list.len().max(1) - 1) as f64 * share).round() as usize).copied().unwrap_or(f64::NAN)
}

fn print(folder: &str, mut row: Row) {
    let percent = |n: usize, of: usize| 100.0 * n as f64 / of.max(1) as f64;
    let speed = row.seconds / row.spent.as_secs_f64();
    println!("{folder}: {} clips, {:.0} s, {:.0} times real time", row.clips, row.seconds, speed);
    if row.frames == 0 {
        println!(
            "  false: {} in {:.1} min = {:.2} a minute",
            row.false_notes,
            row.seconds / 60.0,
            row.false_notes as f64 / row.seconds * 60.0
        );
        return;
    }
    let (frames, right) = (row.frames, row.right);
    println!(
        "  frames: {frames}, right {:.2} %, none {:.2} %, octave {:.2} %",
        percent(right, frames),
        percent(row.none, frames),
        percent(row.octave, frames)
    );
    println!(
        "  notes: told {:.1} %, right {:.1} % of all; more {}; told after {:.0} / {:.0} ms",
        percent(row.told, row.clips),
        percent(row.told_right, row.clips),
        row.more,
        part(&mut row.after, 0.5),
        part(&mut row.after, 0.95)
    );
    println!(
        "  cents: median {:.3}, p95 {:.3}, worst {:.2}",
        part(&mut row.cents, 0.5),
        part(&mut row.cents, 0.95),
        part(&mut row.cents, 1.0)
    );
    println!(
        "  pitch after: p50 {:.0}, p90 {:.0}, p95 {:.0} ms",
        part(&mut row.latencies, 0.5),
        part(&mut row.latencies, 0.9),
        part(&mut row.latencies, 0.95)
    );
    let bias = part(&mut row.entries, 0.5);
    let mut errors: Vec<f64> = row.entries.iter().map(|error| (error - bias).abs()).collect();
    let within = errors.iter().filter(|error| **error <= 20.0).count();
    println!(
        "  entry: bias {bias:.1}, median {:.1}, p90 {:.1} ms, within 20 ms {:.1} %",
        part(&mut errors, 0.5),
        part(&mut errors, 0.9),
        percent(within, errors.len())
    );
    if row.brass > 0 {
        println!(
            "  partial: right {:.1} %, pitch right at 120 ms {:.1} % of {}",
            percent(row.partials, row.brass),
            percent(row.early, row.brass),
            row.brass
        );
    }
}
