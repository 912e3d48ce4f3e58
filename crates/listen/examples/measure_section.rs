//! Measures shares and entries on folders of sections made by `benches/listening/clips.py section`, a row a folder:
//!
//!     cargo run --release -p listen --example measure_section -- [--heads known|unknown] [--parametric | --mean | --solos FOLDER,FOLDER] FOLDER...
//!     cargo run --release -p listen --example measure_section -- [--off SECONDS] --entries FOLDER
//!
//! Words hold for what follows them. `--parametric` and `--mean` go by one timbre in place of several, `--tell` prints it;
//! `--solos` weighs one more beside the several, each instrument's own, learnt from sections of one head (`clips.py section --heads 1`).
//! A section is heard from 0.35 s after its nominal entry for 1.4 s.
//! `--features FOLDER` and `--grids FOLDER` print what entries and shares are told from, a line of JSON a clip.
//!
//! - wrong: half the summed error of all shares, in percentage points; on woodwinds with the share beside the note
//! - largest: the largest group named, where it leads by two heads
//! - target: heads on the note asked for, within one
//! - leak: share given to a note an octave above one that half the section or more is on, where nobody is
//! - bounds: how often the bounds of the note asked for hold the truth, of nine in ten stated
//! - elsewhere: error of the share on none of the notes
//! - tuning: error of the section's mean tuning, in cents
//! - entries: error of the spread (SD) and mean; how surely a spread of 25 ms or less is told from one of 50 or more (area under the curve);
//!   the words these are given. "always the same" is what naming one mean for all clips would give.
//!
//! Figures of seeds and fonts that nothing was fitted to, and how to have them again: clips by `clips.py section ARGUMENTS --out FOLDER`.
//!
//! | clips | words | wrong | largest | target | leak | bounds |
//! | --- | --- | --- | --- | --- | --- | --- |
//! | `--spread --seed 6001 --count 240 --fonts csound` | known | 8.7 | 95.7 of 161 | 90.4 | 1.2 | 93.3 |
//! | the same | `--heads unknown` | 10.8 | 96.3 | 91.7 | 2.2 | 92.9 |
//! | `--spread --seed 6002 --count 240 --fonts opl3` | known | 10.7 | 92.3 of 142 | 89.2 | 5.2 | 93.8 |
//! | the same | `--heads unknown` | 12.3 | 93.0 | 88.8 | 5.0 | 89.6 |
//! | `--spread --seed 7001 --count 120 --fonts csound` | known | 7.2 | 93.8 of 80 | 95.0 | 0.0 | 95.8 |
//! | the same | `--heads unknown` | 9.4 | 93.8 | 94.2 | 1.7 | 95.0 |
//! | `--spread --seed 7002 --count 120 --fonts opl3` | known | 9.1 | 94.9 of 78 | 91.7 | 7.4 | 93.3 |
//! | the same | `--heads unknown` | 10.7 | 96.2 | 90.0 | 7.3 | 90.8 |
//! | `--spread --seed 8001 --count 240 --fonts csound` | known | 8.1 | 92.2 of 166 | 93.8 | 1.1 | 96.2 |
//! | the same | `--heads unknown` | 10.6 | 92.2 | 92.5 | 2.3 | 95.8 |
//! | `--spread --seed 8002 --count 240 --fonts opl3` | known | 9.2 | 95.5 of 154 | 92.9 | 9.1 | 93.8 |
//! | the same | `--heads unknown` | 11.0 | 94.8 | 91.2 | 8.5 | 93.3 |
//! | `--woodwinds --seed 6041 --count 200 --fonts csound` | known | 13.6 | 93.7 of 142 | 84.5 | 3.7 | 93.0 |
//! | the same | `--heads unknown` | 15.3 | 93.7 | 83.5 | 4.4 | 95.0 |
//! | `--woodwinds --seed 6042 --count 200 --fonts opl3` | known | 9.6 | 97.1 of 136 | 90.5 | 1.6 | 97.5 |
//! | the same | `--heads unknown` | 12.1 | 97.1 | 87.5 | 2.7 | 96.0 |
//! | `--woodwinds --seed 7041 --count 120 --fonts csound` | known | 13.2 | 92.0 of 88 | 89.2 | 3.2 | 92.5 |
//! | the same | `--heads unknown` | 14.6 | 92.0 | 85.8 | 3.7 | 92.5 |
//! | `--woodwinds --seed 7042 --count 120 --fonts opl3` | known | 11.3 | 95.3 of 85 | 87.5 | 2.7 | 95.0 |
//! | the same | `--heads unknown` | 12.5 | 94.1 | 85.8 | 3.0 | 97.5 |
//! | `--woodwinds --seed 8041 --count 200 --fonts csound` | known | 13.0 | 92.8 of 139 | 87.0 | 3.9 | 92.0 |
//! | the same | `--heads unknown` | 14.8 | 92.1 | 84.5 | 5.2 | 94.5 |
//! | `--woodwinds --seed 8042 --count 200 --fonts opl3` | known | 11.1 | 94.4 of 142 | 85.0 | 0.7 | 95.0 |
//! | the same | `--heads unknown` | 12.9 | 93.7 | 84.5 | 2.1 | 94.5 |
//!
//! With 60 solos of the same font learnt, some 12 to 15 of each instrument: `clips.py section --heads 1 --count 60`, brass with `--seed 6201
//! --fonts csound` and `--seed 6202 --fonts opl3`, woodwinds with `--woodwinds`, `--seed 6241` and `--seed 6242`.
//!
//! | clips | words | wrong | largest | target | leak | bounds |
//! | --- | --- | --- | --- | --- | --- | --- |
//! | `--spread --seed 6001 --count 240 --fonts csound` | `--solos` | 8.4 | 95.7 | 91.2 | 1.2 | 93.8 |
//! | `--spread --seed 6002 --count 240 --fonts opl3` | `--solos` | 9.8 | 93.7 | 90.4 | 2.5 | 93.3 |
//! | `--spread --seed 8001 --count 240 --fonts csound` | `--solos` | 8.0 | 93.4 | 93.3 | 1.4 | 96.7 |
//! | `--spread --seed 8002 --count 240 --fonts opl3` | `--solos` | 8.2 | 97.4 | 94.2 | 4.3 | 93.8 |
//! | `--woodwinds --seed 6041 --count 200 --fonts csound` | `--solos` | 13.4 | 93.7 | 83.5 | 2.9 | 92.5 |
//! | `--woodwinds --seed 6042 --count 200 --fonts opl3` | `--solos` | 9.0 | 96.3 | 90.0 | 0.7 | 97.5 |
//!
//! Of 12 heads, the most, one answer takes 6 to 9 ms on brass and 14 to 17 on woodwinds, the hearing of its 1.4 s with it. With heads
//! unknown, 4, 6 and 9 are weighed together and the answer is a mean; with heads known it is in whole heads.
//!
//! | clips | spread off | tidy from ragged | mean off (always the same) |
//! | --- | --- | --- | --- |
//! | `--spread --seed 6001 --count 240 --fonts csound` | 12.8 ms | 0.970 | 13.2 ms (13.2) |
//! | `--spread --seed 6002 --count 240 --fonts opl3` | 13.1 ms | 0.962 | 13.5 ms (13.8) |
//!
//! The spread is told worse where the whole section is off the beat: `--off 0.06` and `--off -0.05` show by how much.

use listen::section::entries::{Entries, SectionEntries, Word};
use listen::section::heads::Timbre;
use listen::section::{Section, Series};
use serde_json::Value;
use std::collections::HashMap;
use std::error::Error;
use std::path::Path;
use std::time::Instant;
use units::{FrameInstant, Hertz, SampleRate};

type Fallible<T> = Result<T, Box<dyn Error>>;

/// A player of the clips breathes for so many seconds from where it starts: the beat on which its tone is to begin comes after.
const BREATH: f64 = 0.05;

struct Clip {
    instrument: String,
    series: Series,
    partials: Vec<u8>,
    counts: Vec<f64>,
    heads: f64,
    target: u8,
    cents: f64,
    rate: SampleRate,
    sound: Vec<f32>,
}

fn main() -> Fallible<()> {
    let (mut known, mut timbre, mut off) = (true, None, 0.0);
    let mut solos = HashMap::new();
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        match word.as_str() {
            "--heads" => known = words.next().as_deref() == Some("known"),
            "--off" => off = words.next().ok_or("by how much?")?.parse()?,
            "--entries" => entries_row(&words.next().ok_or("no folder")?, off)?,
            "--features" => features(&words.next().ok_or("no folder")?)?,
            "--grids" => grids(&words.next().ok_or("no folder")?)?,
            "--tell" => println!("{timbre:.4?}"),
            "--parametric" => timbre = Some(Timbre::parametric()),
            "--mean" => timbre = Some(Timbre::brass()),
            "--solos" => solos = learnt(&words.next().ok_or("no folders of solos")?)?,
            folder => row(folder, known, timbre, &solos)?,
        }
    }
    Ok(())
}

/// How well the entries of a folder are told.
fn entries_row(folder: &str, off: f64) -> Fallible<()> {
    let (mut told, mut untold, mut length) = (Vec::new(), 0, 0.0);
    let begun = Instant::now();
    for line in std::fs::read_to_string(Path::new(folder).join("truth.jsonl"))?.lines() {
        let truth: Value = serde_json::from_str(line)?;
        let number = |key: &str| truth[key].as_f64().ok_or_else(|| format!("no {key} in the truth"));
        let (sound, rate) = whole(Path::new(folder), &truth)?;
        let mut entries = SectionEntries::new(rate);
        entries.hear(&sound);
        length += sound.len() as f64 / f64::from(rate.hz());
        let beat = number("lead")? + BREATH + off;
        match entries.told(FrameInstant(rate.span(beat).0)) {
            Some(entries) => told.push((entries, 1000.0 * number("entry_sd")?, 1000.0 * (number("entry_mean")? - beat))),
            None => untold += 1,
        }
    }
    let taken = begun.elapsed().as_secs_f64();
    let count = told.len().max(1) as f64;
    let mean = |of: &dyn Fn(&(Entries, f64, f64)) -> f64| told.iter().map(of).sum::<f64>() / count;
    let percent = |of: &dyn Fn(&(Entries, f64, f64)) -> bool| 100.0 * told.iter().filter(|row| of(row)).count() as f64 / count;
    let all_mean = mean(&|row| row.2);
    let tidy: Vec<&Entries> = told.iter().filter(|row| row.1 <= 25.0).map(|row| &row.0).collect();
    let ragged: Vec<&Entries> = told.iter().filter(|row| row.1 >= 50.0).map(|row| &row.0).collect();
    let above = |a: f64, b: f64| if a > b { 1.0 } else { 0.5 * f64::from(u8::from(a == b)) };
    let apart: f64 = ragged.iter().flat_map(|a| tidy.iter().map(move |b| above(a.spread_ms, b.spread_ms))).sum();
    let called =
        |list: &[&Entries], word: Word| 100.0 * list.iter().filter(|row| row.word == word).count() as f64 / list.len().max(1) as f64;
    println!(
        "{folder} ({} clips, {untold} untold): spread off by {:.1} ms, within its doubt {:.0} %; tidy from ragged {:.3} of {} and {}; \
         tidy called together {:.0} %, ragged {:.0} %; ragged called ragged {:.0} %, together {:.0} %; \
         mean off by {:.1} ms (always the same: {:.1}), bias {:.1}, within its doubt {:.0} %; {:.0} times real time",
        told.len(),
        mean(&|row| (row.0.spread_ms - row.1).abs()),
        percent(&|row| (row.0.spread_ms - row.1).abs() <= row.0.doubt_ms),
        apart / (tidy.len() * ragged.len()).max(1) as f64,
        tidy.len(),
        ragged.len(),
        called(&tidy, Word::Together),
        called(&tidy, Word::Ragged),
        called(&ragged, Word::Ragged),
        called(&ragged, Word::Together),
        mean(&|row| (row.0.mean_ms - row.2).abs()),
        mean(&|row| (row.2 - all_mean).abs()),
        mean(&|row| row.0.mean_ms - row.2),
        percent(&|row| (row.0.mean_ms - row.2).abs() <= row.0.mean_doubt_ms),
        length / taken
    );
    Ok(())
}

/// Prints what the entries of every clip are told from, with their truth: a line of JSON each.
fn features(folder: &str) -> Fallible<()> {
    for line in std::fs::read_to_string(Path::new(folder).join("truth.jsonl"))?.lines() {
        let mut truth: Value = serde_json::from_str(line)?;
        let (sound, rate) = whole(Path::new(folder), &truth)?;
        let mut entries = SectionEntries::new(rate);
        entries.hear(&sound);
        let beat = truth["lead"].as_f64().ok_or("no lead")? + BREATH;
        if let Some((middle, numbers)) = entries.numbers(FrameInstant(rate.span(beat).0)) {
            truth["middle"] = (beat + middle).into();
            truth["numbers"] = numbers.to_vec().into();
        }
        println!("{truth}");
    }
    Ok(())
}

/// Prints the grid of every clip with its truth: a line of JSON each.
fn grids(folder: &str) -> Fallible<()> {
    for line in std::fs::read_to_string(Path::new(folder).join("truth.jsonl"))?.lines() {
        let mut truth: Value = serde_json::from_str(line)?;
        let clip = clip(Path::new(folder), &truth)?;
        let mut section = Section::new(clip.series, None, clip.rate);
        section.hear(&clip.sound);
        let grid = section.grid().ok_or("a silent clip")?;
        truth["power"] = grid.power.to_vec().into();
        truth["floor"] = grid.floor.to_vec().into();
        println!("{truth}");
    }
    Ok(())
}

fn whole(folder: &Path, truth: &Value) -> Fallible<(Vec<f32>, SampleRate)> {
    let mut wav = hound::WavReader::open(folder.join(truth["file"].as_str().ok_or("no file")?))?;
    let sound = wav.samples::<i16>().map(|s| s.map(|s| f32::from(s) / 32768.0)).collect::<Result<Vec<_>, _>>()?;
    Ok((sound, SampleRate::new(wav.spec().sample_rate)?))
}

/// The timbre of each instrument, from solos.
fn learnt(folders: &str) -> Fallible<HashMap<String, Timbre>> {
    let mut timbres: HashMap<String, Timbre> = HashMap::new();
    for folder in folders.split(',') {
        for clip in clips(Path::new(folder))? {
            let mut solo = Section::new(clip.series, Some(1), clip.rate);
            solo.hear(&clip.sound);
            // a woodwind may be beside the note
            let Some(at) = clip.counts.iter().position(|count| *count > 0.0) else { continue };
            if let Some(grid) = solo.grid() {
                timbres.entry(clip.instrument).or_insert_with(Timbre::parametric).learn(&grid, clip.partials[at]);
            }
        }
    }
    Ok(timbres)
}

fn clips(folder: &Path) -> Fallible<Vec<Clip>> {
    let table = std::fs::read_to_string(folder.join("truth.jsonl"))?;
    table.lines().map(|line| clip(folder, &serde_json::from_str(line)?)).collect()
}

fn clip(folder: &Path, truth: &Value) -> Fallible<Clip> {
    let number = |key: &str| truth[key].as_f64().ok_or_else(|| format!("no {key} in the truth"));
    let list = |key: &str| truth[key].as_array().map(|list| list.iter().filter_map(Value::as_f64).collect::<Vec<_>>()).unwrap_or_default();
    let (sound, rate) = whole(folder, truth)?;
    let at = |seconds: f64| rate.span(seconds).0 as usize;
    let begin = number("lead")? + 0.35;
    let partials: Vec<u8> = list("partials").into_iter().map(|k| k as u8).collect();
    let (fundamental, target) = (Hertz::new(number("fundamental")?)?, number("target")? as u8);
    let woodwind = partials[0] == 1;
    let series = if woodwind { Series::overblown_from(fundamental, target) } else { Series::new(fundamental, &partials) };
    Ok(Clip {
        instrument: truth["instrument"].as_str().ok_or("no instrument in the truth")?.to_owned(),
        series,
        partials,
        counts: list("counts"),
        heads: number("heads")?,
        target,
        cents: number("cents_mean")?,
        rate,
        sound: sound[at(begin)..at(begin + 1.4).min(sound.len())].to_vec(),
    })
}

fn row(folder: &str, known: bool, timbre: Option<Timbre>, solos: &HashMap<String, Timbre>) -> Fallible<()> {
    let clips = clips(Path::new(folder))?;
    let (mut wrong, mut tuning, mut leaks, mut aside, mut usual) = (0.0, 0.0, Vec::new(), 0.0, 0.0);
    let (mut led, mut largest, mut target, mut held) = (0, 0, 0, 0);
    let begun = Instant::now();
    for clip in &clips {
        let heads = clip.heads;
        let mut section = Section::new(clip.series, known.then_some(heads as u8), clip.rate);
        if let Some(timbre) = timbre {
            section.set_timbre(timbre);
        }
        if let Some(timbre) = solos.get(&clip.instrument) {
            section.add_timbre(*timbre);
        }
        section.hear(&clip.sound);
        let shares = section.shares().ok_or("a silent section")?;
        let on: f64 = clip.counts.iter().sum::<f64>() / heads;
        let told: Vec<f64> = shares.as_slice().iter().map(|share| share.share).collect();
        aside += (shares.elsewhere - (1.0 - on)).abs();
        usual += 1.0 - on;
        let truth: Vec<f64> = clip.counts.iter().map(|count| count / heads).collect();
        wrong += 0.5 * told.iter().zip(&truth).map(|(a, b)| (a - b).abs()).sum::<f64>();
        if clip.partials[0] == 1 {
            wrong += 0.5 * (shares.elsewhere - (1.0 - on)).abs();
        }
        tuning += (shares.tuning.0 - clip.cents).abs();
        let top = |list: &[f64]| (0..list.len()).max_by(|a, b| list[*a].total_cmp(&list[*b])).unwrap_or(0);
        let mut order = clip.counts.clone();
        order.sort_by(f64::total_cmp);
        if order[order.len() - 1] - order[order.len() - 2] >= 2.0 {
            led += 1;
            largest += usize::from(shares.largest().map(|share| share.partial) == Some(clip.partials[top(&truth)]));
        }
        let share = shares.on(clip.target).ok_or("the note asked for is not of the series")?;
        let at = clip.partials.iter().position(|k| *k == clip.target).ok_or("no target")?;
        target += usize::from(((share.share * heads).round() - clip.counts[at]).abs() <= 1.0);
        held += usize::from(share.bounds.0 <= truth[at] + 1e-6 && truth[at] <= share.bounds.1 + 1e-6);
        for (low, k) in clip.partials.iter().enumerate() {
            if let Some(high) = clip.partials.iter().position(|other| *other == 2 * k)
                && truth[low] >= 0.5
                && truth[high] == 0.0
            {
                leaks.push(told[high]);
            }
        }
    }
    let count = clips.len() as f64;
    let percent = |n: usize, of: usize| 100.0 * n as f64 / of.max(1) as f64;
    println!(
        "{folder} ({} clips, heads {}): wrong {:.1}; largest {:.1} % of {led}; target within one {:.1} %; leak {:.1} of {}; bounds hold {:.1} %; elsewhere off by {:.1} (of {:.1}); tuning {:.1} cents; {:.0} ms a clip",
        clips.len(),
        if known { "known" } else { "unknown" },
        100.0 * wrong / count,
        percent(largest, led),
        percent(target, clips.len()),
        100.0 * leaks.iter().sum::<f64>() / leaks.len().max(1) as f64,
        leaks.len(),
        percent(held, clips.len()),
        100.0 * aside / count,
        100.0 * usual / count,
        tuning / count,
        1000.0 * begun.elapsed().as_secs_f64() / count
    );
    Ok(())
}
