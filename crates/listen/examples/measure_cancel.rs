//! Measures the canceller on folders of `benches/listening/clips.py drone`, a row a folder:
//!
//!     cargo run --release -p listen --example measure_cancel -- FOLDER...
//!
//! Both streams go through the whole clearing: the microphone comes 5 to 400 ms late (drawn from the clip's number) and in blocks of its own,
//! the sweep calibrates, learning goes on from the sound alone, and all is frozen when the player enters. Suppression is of the echo alone,
//! in dB: before the entry, and while the player plays (median, tenth, worst). Kept: the player's level in what comes out, worst, in dB.
//! Notes: those right within 50 cents with and without it. `--no-sweep` finds everything from the sound alone.
//!
//! Figures of fonts and seeds that nothing was fitted to, in dB while the player plays, and how to have them again: clips by
//! `clips.py drone ARGUMENTS --count 200 --fonts csound,opl3 --out FOLDER`. It takes about 1.2 % of a core.
//!
//! | clips | median | tenth | worst | kept, worst | notes right, without |
//! | --- | --- | --- | --- | --- | --- |
//! | `--seed 9201` | 54.0 | 51.4 | 48.3 | -0.01 | 100.0 %, 27.5 % |
//! | `--seed 9202 --model` | 42.0 | 33.8 | 22.1 | -0.25 | 99.5 %, 28.0 % |
//! | `--seed 9203 --change -20` | 41.1 | 32.1 | 24.7 | -0.04 | 97.0 %, 32.5 % |
//! | `--seed 9204 --drift 30` | 53.8 | 51.2 | 46.7 | -0.02 | 100.0 %, 27.0 % |
//! | `--seed 9205 --distort 0.01` | 52.0 | 48.6 | 42.9 | -0.02 | 100.0 %, 34.0 % |
//! | `--seed 9206 --unison` | 54.3 | 51.3 | 46.6 | -0.07 | 95.5 %, 96.0 % |

use listen::decimate::Decimator;
use listen::room::{Clearing, Meeting};
use listen::{Player, Verdict};
use pitch::{Instrument, Tuning};
use serde_json::Value;
use std::error::Error;
use std::time::Instant;
use units::{FrameInstant, Hertz, SampleRate};

/// The mean taken away, as the clearing does.
fn mean_taken(held: &mut (f32, f32), x: f32) -> Option<f32> {
    *held = (x, x - held.0 + (-std::f32::consts::TAU * 15.0 / 24_000.0).exp() * held.1);
    Some(held.1)
}

/// Frames handed over at once, as a device would.
const BLOCK: usize = 480;

fn main() -> Result<(), Box<dyn Error>> {
    let sweeping = !std::env::args().any(|word| word == "--no-sweep");
    for folder in std::env::args().skip(1).filter(|word| !word.starts_with("--")) {
        let (mut before, mut during, mut with, mut without) = (Vec::new(), Vec::new(), 0, 0);
        let (mut ratios, mut places, mut kept, mut lost) = (Vec::new(), Vec::new(), Vec::new(), 0);
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
            let alone = at(number("alone")? - 0.1);
            let (player, _) = read("_player")?;
            let late = at(0.005 + 0.395 * (0.618_034 * number("index")?).fract());
            let mut clearing = Clearing::new(rate, rate);
            let factor = (f64::from(hz) / f64::from(clearing.rate().hz())).round() as usize;
            let mut clean: Vec<f32> = Vec::new();
            let mut ears = vec![0.0; late];
            ears.extend_from_slice(&mic);
            let begun = Instant::now();
            let (mut told, mut calibrated) = (false, false);
            for (n, (sent, heard)) in sent.chunks(BLOCK).zip(ears.chunks(BLOCK)).enumerate() {
                let now = n * BLOCK;
                if now >= alone + late && !calibrated {
                    calibrated = true;
                    let start = begun.elapsed();
                    if sweeping && let Err(error) = clearing.calibrate(FrameInstant(0)) {
                        eprintln!("{name}: {error}");
                    }
                    spent -= (begun.elapsed() - start).as_secs_f64();
                }
                if now + BLOCK > entry + late && !told {
                    told = true;
                    clearing.freeze(true);
                }
                clearing.sent(FrameInstant(now as u64), sent);
                clearing.heard(heard, |cleared| clean.extend_from_slice(cleared.sound));
            }
            spent += begun.elapsed().as_secs_f64();
            seconds += mic.len() as f64 / f64::from(hz);
            match clearing.meeting() {
                Meeting::Found { ratio_ppm, .. } => {
                    ratios.push(ratio_ppm);
                    // what of the engine is heard where the player enters; the echo's own way is 8 ms
                    let cleared = FrameInstant(((entry + late + Decimator::new(rate).delay().0 as usize) / factor) as u64);
                    let frame = clearing.engine_frame(cleared).unwrap_or_default().0 as f64;
                    places.push(((frame - entry as f64) / f64::from(hz) * 1000.0 + 8.0).abs());
                }
                Meeting::Unknown => lost += 1,
            }
            // the same decimation for what is known to be in it
            let slowed = |sound: &[f32]| {
                let mut slower = Decimator::new(rate);
                std::iter::repeat_n(&0.0, late)
                    .chain(sound)
                    .filter_map(|x| slower.push(*x))
                    .scan((0.0, 0.0), mean_taken)
                    .collect::<Vec<f32>>()
            };
            let (mic, echo, player) = (slowed(&mic), slowed(&echo), slowed(&player));
            let rate = clearing.rate();
            let at = |seconds: f64| rate.span(seconds).0 as usize;
            let entry = (entry + late) / factor;
            let power = |x: &mut dyn Iterator<Item = f32>| x.map(|x| f64::from(x * x)).sum::<f64>();
            let suppression = |range: std::ops::Range<usize>| {
                let whole = power(&mut range.clone().map(|n| echo[n]));
                // what was taken away, from the echo that was there
                let left = power(&mut range.map(|n| echo[n] - (mic[n] - clean[n])));
                10.0 * (whole / left).log10()
            };
            before.push(suppression(entry - at(1.0)..entry - at(0.5)));
            let played = entry + at(0.4)..(entry + at(1.6)).min(clean.len());
            during.push(suppression(played.clone()));
            // the player's share of what comes out
            let with_player: f64 = played.clone().map(|n| f64::from(clean[n] * player[n])).sum();
            kept.push(20.0 * (with_player / power(&mut played.map(|n| player[n]))).log10());
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
        [&mut before, &mut during, &mut kept, &mut ratios, &mut places].into_iter().for_each(|list| list.sort_by(f64::total_cmp));
        let share = |n: usize| 100.0 * n as f64 / count as f64;
        let at = |list: &[f64], share: f64| list.get((share * list.len() as f64) as usize).or(list.last()).copied().unwrap_or(f64::NAN);
        println!(
            "{folder} ({count} clips): before {:.1} dB; while played {:.1} (tenth {:.1}, worst {:.1}); kept worst {:.2} dB; notes right {:.1} %, \
             without {:.1} %; ratio {:.2} to {:.2} ppm; place within {:.2} ms (worst {:.2}), not met {lost}; {:.1} % of a core, {:.0} xRT",
            at(&before, 0.5),
            at(&during, 0.5),
            at(&during, 0.1),
            at(&during, 0.0),
            at(&kept, 0.0),
            share(with),
            share(without),
            at(&ratios, 0.0),
            at(&ratios, 1.0),
            at(&places, 0.9),
            at(&places, 1.0),
            100.0 * spent / seconds,
            seconds / spent
        );
    }
    Ok(())
}
