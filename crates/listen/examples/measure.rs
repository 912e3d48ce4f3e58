//! Measures hearing on folders of clips made by `benches/listening/clips.py`, a row a folder:
//!
//!     cargo run --release -p listen --example measure -- [--each N] [--tell] [--clips] FOLDER...
//!
//! `--tell` names the clips that went wrong; `--clips` prints a line of JSON for each clip in place of the rows; `--each` has sound in
//! which nobody plays heard as so many instruments.
//!
//! - frames: those in the sustain of a note, right within 50 cents, without an answer, an octave off
//! - told: notes told in clips of one note; right: their pitch within 50 cents; more: notes told besides the one that was played
//! - cents: error of right notes, median, 95th percentile, worst
//! - pitch after: from the true beginning to the first of five right pitches in a row, at 10 dB and better, in ms; tubas also by themselves
//! - entry: error of its time about its mean, in ms
//! - partial (brass): a note of another partial of the same fingering asked for: the partial told of the note, and 120 ms after its true
//!   beginning; and without a note asked for, the pitch right by then
//! - false: notes told where nobody played, a minute
//!
//! Figures of seeds and fonts that nothing was fitted to (fluid and tim: of seeds), and how to have them again: clips by
//! `clips.py single ARGUMENTS --out FOLDER`. Only how sure a note must be (`SURE`) was raised after a look at the drums, and how fast
//! what is held of a pitch is forgotten (`FORGET`) was chosen of two values on the rows of seeds from 9001 on. Brass is
//! `--instruments trumpet_bb,horn_f,trombone,tuba,euphonium_bc`.
//!
//! | clips | notes right | frames right | cents, median / p95 | pitch after, p50 / p95 ms | entry, median / p90 ms, in 20 ms |
//! | --- | --- | --- | --- | --- | --- |
//! | `--seed 7101 --count 225 --fonts csound` | 100.0 | 99.7 | 0.47 / 1.9 | 32 / 85 | 3.4 / 15.4, 94.7 % |
//! | `--seed 7102 --count 225 --fonts opl3` | 99.1 | 99.5 | 0.32 / 1.5 | 30 / 84 | 2.3 / 11.7, 99.1 % |
//! | `--seed 7103 --count 225 --fonts fluid,tim` | 100.0 | 99.9 | 0.66 / 2.9 | 35 / 74 | 3.4 / 15.6, 95.1 % |
//! | `--snr 5 --seed 7111 --count 225 --fonts csound` | 100.0 | 99.8 | 0.51 / 1.7 | - | 5.6 / 18.6, 92.0 % |
//! | `--snr 5 --seed 7112 --count 225 --fonts opl3` | 99.6 | 99.6 | 0.35 / 1.9 | - | 3.6 / 15.3, 94.6 % |
//! | `--snr 5 --seed 7113 --count 225 --fonts fluid,tim` | 99.6 | 99.1 | 0.58 / 2.6 | - | 8.1 / 21.8, 87.5 % |
//! | `--snr 5 --seed 9111 --count 450 --fonts csound` | 99.8 | 99.8 | 0.48 / 1.8 | - | 5.8 / 22.9, 88.2 % |
//! | `--snr 5 --seed 9112 --count 450 --fonts opl3` | 99.3 | 99.2 | 0.40 / 2.0 | - | 4.8 / 15.3, 94.4 % |
//! | `--snr 5 --seed 9113 --count 450 --fonts fluid,tim` | 99.6 | 99.5 | 0.60 / 2.7 | - | 6.2 / 19.6, 90.2 % |
//! | `--instruments tuba --seed 7123 --count 200 --fonts csound,opl3` | 100.0 | 99.9 | 0.45 / 1.9 | 63 / 104 | 5.5 / 14.5, 96.5 % |
//! | `exact --seed 7104 --count 200 --fonts csound,opl3` | 100.0 | 100.0 | 0.023 / 0.286 | 28 / 48 | 0.5 / 2.9, 99.5 % |
//!
//! | brass | partial of the note | at 120 ms | nothing asked, at 120 ms | off the series |
//! | --- | --- | --- | --- | --- |
//! | `--snr 5 --seed 7121 --count 200 --fonts csound,opl3` | 100.0 | 97.8 | 97.8 | 100.0 |
//! | `--snr 5 --seed 9121 --count 600 --fonts csound,opl3` | 99.6 | 99.5 | 99.3 | 99.5 |
//! | `--snr 0 --seed 7122 --count 200 --fonts csound,opl3` | 98.9 | 96.3 | 89.5 | 98.0 |
//!
//! | nobody plays | notes told |
//! | --- | --- |
//! | `drums --seed 7131 --count 185 --fonts fluid,tim,csound,opl3` | 5 in 62 minutes |
//! | the same, `--seed 9131` | 10 in 62 minutes |
//! | `speech --seed 7132 --count 185` | 0 in 66 minutes |
//! | the same, `--seed 9132` | 0 in 66 minutes |
//! | `clutter --seed 7133 --count 185` | 1 in 62 minutes |
//! | the same, `--seed 9133` | 2 in 62 minutes |

use listen::{Heard, Note, Place, Player, Verdict};
use pitch::{Concert, Instrument, Key, Tuning, Written};
use serde_json::{Value, json};
use std::error::Error;
use std::path::Path;
use std::time::{Duration, Instant};
use units::{FrameInstant, Hertz, SampleRate};

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
    tubas: Vec<f64>,
    entries: Vec<f64>,
    after: Vec<f64>,
    brass: usize,
    partials: usize,
    named_early: usize,
    beside: usize,
    off_series: usize,
    early: usize,
    false_notes: usize,
}

/// What is asked for beside the folders.
#[derive(Clone, Copy)]
struct Wish {
    each: usize,
    tell: bool,
    clips: bool,
}

fn main() -> Fallible<()> {
    let mut wish = Wish { each: 1, tell: false, clips: false };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        match word.as_str() {
            "--each" => wish.each = words.next().ok_or("--each wants a number")?.parse()?,
            "--tell" => wish.tell = true,
            "--clips" => wish.clips = true,
            folder => {
                let row = measure(Path::new(folder), wish)?;
                if !wish.clips {
                    print(folder, row);
                }
            }
        }
    }
    Ok(())
}

fn number(truth: &Value, key: &str) -> Fallible<f64> {
    truth[key].as_f64().ok_or_else(|| format!("no {key} in the truth").into())
}

fn measure(folder: &Path, wish: Wish) -> Fallible<Row> {
    let mut row = Row::default();
    let table = std::fs::read_to_string(folder.join("truth.jsonl"))?;
    let pitched: Vec<_> = Instrument::all().iter().filter(|i| i.family() != pitch::Family::Percussion).collect();
    for (index, line) in table.lines().enumerate() {
        let truth: Value = serde_json::from_str(line)?;
        let mut wav = hound::WavReader::open(folder.join(truth["file"].as_str().ok_or("no file")?))?;
        let samples = wav.samples::<i16>().map(|s| s.map(|s| f32::from(s) / 32768.0)).collect::<Result<Vec<_>, _>>()?;
        let sound = Sound { samples, rate: SampleRate::new(wav.spec().sample_rate)? };
        row.clips += 1;
        match truth["instrument"].as_str() {
            Some(name) => one_note(&mut row, Instrument::find(name)?, &sound, &truth, wish)?,
            None => {
                for n in 0..wish.each {
                    nobody(&mut row, pitched[(index + 7 * n) % pitched.len()], &sound, &truth, wish)?;
                }
            }
        }
    }
    Ok(row)
}

struct Sound {
    samples: Vec<f32>,
    rate: SampleRate,
}

impl Sound {
    fn seconds(&self, at: FrameInstant) -> f64 {
        at.0 as f64 / f64::from(self.rate.hz())
    }

    fn length(&self) -> f64 {
        self.samples.len() as f64 / f64::from(self.rate.hz())
    }
}

/// An instant: the middle of what it was heard in, when it was told, its pitch; all in seconds and Hz.
struct Seen {
    at: f64,
    upto: f64,
    pitch: Option<Hertz>,
    placed: Option<Place>,
}

/// All that is told of a clip.
struct Told {
    frames: Vec<Seen>,
    notes: Vec<(f64, Note)>,
    answer: Verdict,
    spent: Duration,
}

fn hear(instrument: &'static Instrument, sound: &Sound, asked: Option<Written>) -> Fallible<Told> {
    let mut player = Player::new(instrument, sound.rate, Tuning::default())?;
    player.expect(asked);
    let (mut frames, mut notes, mut upto) = (Vec::new(), Vec::new(), 0.0);
    let begun = Instant::now();
    player.hear(&sound.samples, |heard| match heard {
        Heard::Frame(frame) => {
            upto = sound.seconds(frame.upto);
            frames.push(Seen {
                at: sound.seconds(frame.at),
                upto,
                pitch: frame.tone.map(|tone| tone.frequency),
                placed: frame.placed.map(|placed| placed.place),
            });
        }
        Heard::Note(note) => notes.push((upto, note)),
        Heard::Over(_) => {}
    });
    Ok(Told { frames, notes, answer: player.answer(), spent: begun.elapsed() })
}

fn nobody(row: &mut Row, instrument: &'static Instrument, sound: &Sound, truth: &Value, wish: Wish) -> Fallible<()> {
    // on brass something is asked for, as its partials are then listened for
    let told = hear(instrument, sound, instrument.open_partial(4))?;
    row.seconds += sound.length();
    row.spent += told.spent;
    row.false_notes += told.notes.len();
    for (_, note) in told.notes.iter().filter(|_| wish.tell) {
        let (file, at) = (&truth["file"], sound.seconds(note.entry));
        println!("  {file}: {} told {:.1} Hz at {at:.2} s, confidence {:.2}", instrument.id(), note.frequency.hz(), note.confidence);
    }
    Ok(())
}

/// How long after its true beginning a partial is to be known, in seconds.
const EARLY: f64 = 0.120;

fn one_note(row: &mut Row, instrument: &'static Instrument, sound: &Sound, truth: &Value, wish: Wish) -> Fallible<()> {
    let told = hear(instrument, sound, None)?;
    let wanted = Hertz::new(number(truth, "frequency")?)?;
    let (t10, t90, end) = (number(truth, "t10")?, number(truth, "t90")?, number(truth, "tone_end")?);
    row.spent += told.spent;
    row.seconds += sound.length();
    if wish.clips {
        let pitches: Vec<_> = told.frames.iter().map(|seen| json!([seen.at, seen.upto, seen.pitch.map(Hertz::hz)])).collect();
        let note = if let Verdict::Note(note) = told.answer { Some(note) } else { None };
        let (low, high) = listen::player::heard_range(instrument, &Tuning::default());
        let (hz, entry) = (note.map(|note| note.frequency.hz()), note.map(|note| sound.seconds(note.entry)));
        println!("{}", json!({"file": truth["file"], "frames": pitches, "note": hz, "entry": entry, "low": low.hz(), "high": high.hz()}));
        return Ok(());
    }
    let brief = format!(
        "{} {} key {} {:+.0} c, {} {}, room {}, snr {}",
        truth["file"],
        truth["instrument"],
        truth["key"],
        number(truth, "cents")?,
        truth["font"],
        truth["velocity"],
        truth["room"],
        truth["snr"]
    );
    let off = |seen: &Seen| seen.pitch.map(|pitch| pitch.cents_above(wanted).0);
    let right = |seen: &Seen| off(seen).is_some_and(|off| off.abs() <= 50.0);
    let mut here = (0, 0);
    for seen in told.frames.iter().filter(|seen| (t90 + 0.02..end - 0.1).contains(&seen.at)) {
        here.1 += 1;
        match off(seen) {
            None => row.none += 1,
            Some(off) if off.abs() <= 50.0 => here.0 += 1,
            Some(off) => row.octave += usize::from((off / 1200.0 - (off / 1200.0).round()).abs() < 0.05),
        }
    }
    row.frames += here.1;
    row.right += here.0;
    if wish.tell && here.0 < here.1 {
        println!("  {brief}: {} of {} frames wrong", here.1 - here.0, here.1);
    }
    let first = told.frames.windows(5).find(|five| five[0].upto > t10 && five.iter().all(right));
    if number(truth, "snr")? >= 10.0 {
        let latency = first.map_or(2000.0, |five| 1000.0 * (five[0].upto - t10));
        row.latencies.push(latency);
        if truth["instrument"] == "tuba" {
            row.tubas.push(latency);
        }
        if wish.tell && latency > 85.0 {
            println!("  {brief}: pitch after {latency:.0} ms");
        }
    }
    row.more += told.notes.len().saturating_sub(1);
    let due = |told: &Told| told.frames.iter().position(|seen| seen.upto >= t10 + EARLY);
    let (key, cents) = (number(truth, "key")? as i32, number(truth, "cents")?);
    if let Some((asked, partial)) = asked_beside(instrument, (key, cents), row.clips, on_series) {
        row.brass += 1;
        let asking = hear(instrument, sound, Some(asked))?;
        let is_it = |place: Option<Place>| matches!(place, Some(Place::Partial { heard, .. }) if f64::from(heard) == partial.round());
        let named = matches!(asking.answer, Verdict::Note(note) if is_it(note.placed.map(|placed| placed.place)));
        let early = due(&asking).is_some_and(|at| is_it(asking.frames[at].placed));
        let free = due(&told).is_some_and(|at| right(&told.frames[at]));
        row.partials += usize::from(named);
        row.named_early += usize::from(early);
        row.early += usize::from(free);
        if wish.tell && !(named && early && free) {
            let heard = |told: &Told| due(told).and_then(|at| off(&told.frames[at]));
            println!(
                "  {brief}: partial {partial:.2} told {named}, early {early} ({:.0?}), free {free} ({:.0?})",
                heard(&asking),
                heard(&told)
            );
        }
    }
    if let Some((asked, _)) = asked_beside(instrument, (key, cents), row.clips, off_series) {
        row.beside += 1;
        let answer = hear(instrument, sound, Some(asked))?.answer;
        let off = |note: &Note| note.placed.is_some_and(|placed| placed.place == Place::OffTheSeries);
        row.off_series +=
            usize::from(matches!(answer, Verdict::Note(note) if off(&note) && note.frequency.cents_above(wanted).0.abs() <= 50.0));
    }
    let Verdict::Note(note) = told.answer else {
        if wish.tell {
            println!("  {brief}: nothing");
        }
        return Ok(());
    };
    row.told += 1;
    let off = note.frequency.cents_above(wanted).0;
    if off.abs() <= 50.0 {
        row.told_right += 1;
        let clean = sounded(truth, &note, sound).unwrap_or(wanted);
        row.cents.push(note.frequency.cents_above(clean).0.abs());
        let late = 1000.0 * (sound.seconds(note.entry) - t10);
        row.entries.push(late);
        if wish.tell && late.abs() > 20.0 {
            println!("  {brief}: entry {late:+.0} ms");
        }
    } else if wish.tell {
        println!("  {brief}: NOTE {off:+.0} cents");
    }
    if let Some((told, _)) = told.notes.first() {
        row.after.push(1000.0 * (told - t10));
    }
    Ok(())
}

/// For a brass note of `key` and so many cents: another one that was asked for, with the usual fingering of which `wanted` holds, and the
/// partial of it that sounds. Of all there are, the one that `turn` comes to.
fn asked_beside(instrument: &Instrument, (key, sharp): (i32, f64), turn: usize, wanted: impl Fn(f64) -> bool) -> Option<(Written, f64)> {
    let beside: Vec<_> = (key - 24..=key + 24)
        .filter(|other| *other != key)
        .filter_map(|other| {
            let written = instrument.writing_simple(Concert::new(Key::default().spell(other)));
            let fingering = instrument.fingering(written).filter(|fingering| fingering.partial <= 8)?;
            let partial = f64::from(fingering.partial) * ((f64::from(key - other) + sharp / 100.0) / 12.0).exp2();
            wanted(partial).then_some((written, partial))
        })
        .collect();
    beside.get(turn % beside.len().max(1)).copied()
}

/// How far a sound lies beside the nearest partial, in cents.
fn beside_partial(partial: f64) -> f64 {
    1200.0 * (partial / partial.round().max(1.0)).log2()
}

/// Whether it is a partial that beginners land on, clear of the border between partials and what is off the series.
fn on_series(partial: f64) -> bool {
    (1.5..8.5).contains(&partial) && beside_partial(partial).abs() < 30.0
}

/// Whether it lies clearly between partials.
fn off_series(partial: f64) -> bool {
    (1.5..8.5).contains(&partial) && beside_partial(partial).abs() > 60.0
}

/// The median of the clean tone's pitch while the note was heard.
fn sounded(truth: &Value, note: &Note, sound: &Sound) -> Option<Hertz> {
    let (track, from) = (truth["track"].as_array()?, truth["track_from"].as_f64()?);
    let begin = sound.seconds(note.entry) + 0.15 - from;
    let end = sound.seconds(note.entry + note.length) - from;
    let point = |seconds: f64| (20.0 * seconds).round().max(0.0) as usize;
    let mut heard: Vec<f64> = track.iter().skip(point(begin)).take(point(end) - point(begin)).filter_map(Value::as_f64).collect();
    Hertz::new(part(&mut heard, 0.5)).ok()
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
        let (false_notes, minutes) = (row.false_notes, row.seconds / 60.0);
        println!("  false: {false_notes} in {minutes:.1} min = {:.2} a minute", false_notes as f64 / minutes);
        return;
    }
    let frames = row.frames;
    println!(
        "  frames: {frames}, right {:.2} %, none {:.2} %, octave {:.2} %",
        percent(row.right, frames),
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
    let [median, high, worst] = [0.5, 0.95, 1.0].map(|share| part(&mut row.cents, share));
    println!("  cents: median {median:.3}, p95 {high:.3}, worst {worst:.2}");
    for (who, list) in [("", &mut row.latencies), (" (tubas)", &mut row.tubas)] {
        if !list.is_empty() {
            let [half, most, nearly] = [0.5, 0.9, 0.95].map(|share| part(list, share));
            println!("  pitch after{who}: p50 {half:.0}, p90 {most:.0}, p95 {nearly:.0} ms of {}", list.len());
        }
    }
    let bias = part(&mut row.entries, 0.5);
    let mut errors: Vec<f64> = row.entries.iter().map(|error| (error - bias).abs()).collect();
    let within = errors.iter().filter(|error| **error <= 20.0).count();
    let [median, most] = [0.5, 0.9].map(|share| part(&mut errors, share));
    println!("  entry: bias {bias:.1}, median {median:.1}, p90 {most:.1} ms, within 20 ms {:.1} %", percent(within, errors.len()));
    if row.brass > 0 {
        println!(
            "  partial: right {:.1} %, at 120 ms {:.1} %; nothing asked, pitch right at 120 ms {:.1} % of {}; off the series {:.1} % of {}",
            percent(row.partials, row.brass),
            percent(row.named_early, row.brass),
            percent(row.early, row.brass),
            row.brass,
            percent(row.off_series, row.beside),
            row.beside
        );
    }
}
