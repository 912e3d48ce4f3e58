//! Measures the canceller on folders of `benches/listening/clips.py drone`, a row a folder:
//!
//!     cargo run --release -p listen --example measure_cancel -- FOLDER...
//!
//! It is calibrated by the sweep, learns on from the sound alone, and is frozen when the player enters. Suppression is of the echo alone, in dB: before the
//! entry, and while the player plays (median, worst). Notes: those right within 50 cents with and without it.

use listen::cancel::Canceller;
use listen::{Player, Verdict};
use pitch::{Instrument, Tuning};
use serde_json::Value;
use std::error::Error;
use std::time::Instant;
use units::{Hertz, SampleRate};

fn main() -> Result<(), Box<dyn Error>> {
    for folder in std::env::args().skip(1) {
        let (mut before, mut during, mut with, mut without) = (Vec::new(), Vec::new(), 0, 0);
        let (mut seconds, mut spent) = (0.0, 0.0);
        for line in std::fs::read_to_string(format!("{folder}/truth.jsonl"))?.lines() {
            let truth: Value = serde_json::from_str(line)?;
            let number = |key: &str| truth[key].as_f64().ok_or_else(|| format!("no {key}"));
            let name = truth["file"].as_str().ok_or("no file")?.trim_end_matches(".wav").to_owned();
            let read = |track: &str| -> Result<(Vec<f32>, u32), Box<dyn Error>> {
                let mut wav = hound::WavReader::open(format!("{folder}/{name}{track}.wav"))?;
                let sound = wav.samples::<i16>().map(|s| s.map(|s| f32::from(s) / 32768.0)).collect::<Result<_, _>>()?;
                Ok((sound, wav.spec().sample_rate))
            };
            let ((mic, hz), (sent, _), (echo, _)) = (read("")?, read("_ref")?, read("_echo")?);
            let rate = SampleRate::new(hz)?;
            let at = |seconds: f64| rate.span(seconds).0 as usize;
            let entry = at(number("entry")?);
            let mut canceller = Canceller::new(rate);
            let alone = at(number("alone")? - 0.05);
            canceller.calibrate(&sent[..alone], &mic[..alone]);
            let begun = Instant::now();
            let clean: Vec<f32> = mic
                .iter()
                .zip(&sent)
                .enumerate()
                .map(|(n, (mic, sent))| {
                    canceller.freeze(n >= entry || n < alone);
                    canceller.step(*sent, *mic)
                })
                .skip(Canceller::new(rate).delay())
                .collect();
            spent += begun.elapsed().as_secs_f64();
            seconds += mic.len() as f64 / f64::from(hz);
            let suppression = |range: std::ops::Range<usize>| {
                let power = |x: &mut dyn Iterator<Item = f32>| x.map(|x| f64::from(x * x)).sum::<f64>();
                let whole = power(&mut range.clone().map(|n| echo[n]));
                // what was taken away, from the echo that was there
                let left = power(&mut range.map(|n| echo[n] - (mic[n] - clean[n])));
                10.0 * (whole / left).log10()
            };
            before.push(suppression(entry - at(1.0)..entry - at(0.5)));
            during.push(suppression(entry + at(0.4)..entry + at(1.6)));
            let instrument = Instrument::find(truth["instrument"].as_str().ok_or("no instrument")?)?;
            let wanted = Hertz::new(number("frequency")?)?;
            let heard = |sound: &[f32]| -> Result<bool, Box<dyn Error>> {
                let mut player = Player::new(instrument, rate, Tuning::default())?;
                player.hear(&sound[..entry], |_| ());
                player.expect(None);
                player.hear(&sound[entry..entry + at(1.9)], |_| ());
                Ok(matches!(player.answer(), Verdict::Note(note) if note.frequency.cents_above(wanted).0.abs() <= 50.0))
            };
            with += usize::from(heard(&clean)?);
            without += usize::from(heard(&mic)?);
        }
        let count = during.len();
        before.sort_by(f64::total_cmp);
        during.sort_by(f64::total_cmp);
        println!(
            "{folder} ({count} clips): before {:.1} dB; while played {:.1} (worst {:.1}); notes right {:.1} %, without {:.1} %; {:.1} % of a core",
            before[count / 2],
            during[count / 2],
            during[0],
            100.0 * f64::from(with as u32) / count as f64,
            100.0 * f64::from(without as u32) / count as f64,
            100.0 * spent / seconds
        );
    }
    Ok(())
}
