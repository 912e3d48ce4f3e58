use super::decode::{Converter, recorded};
use super::formant::{self, Speaker};
use super::{ClipInfo, Pack, Recording, Row, Source, Tier, library};
use sequencer::Language;
use sha2::{Digest, Sha256};
use std::collections::HashMap;
use units::SampleRate;

/// The list the pack is rendered from.
const WORDS: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets-synth/voice/words.en.tsv"));
const PACKS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets-synth/voice/packs");
const COUNTS: [&str; 10] = ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];
const RATES: [u32; 7] = [22_050, 24_000, 32_000, 44_100, 48_000, 96_000, 192_000];

fn spoken(pack: &Pack, id: &str, tier: Tier) -> ClipInfo {
    pack.word(pack.index_of(id).unwrap()).spoken(tier).unwrap()
}

/// How well `after` at `rate` agrees with `before` at 24 kHz put off by `late` of its frames.
fn agreement(before: &[f32], after: &[f32], rate: u32, late: f64) -> f64 {
    let step = 24_000.0 / f64::from(rate);
    let at = |time: f64| {
        let whole = time.floor();
        let sample = |n: f64| if n < 0.0 { 0.0 } else { before.get(n as usize).map_or(0.0, |&s| f64::from(s)) };
        sample(whole) + (sample(whole + 1.0) - sample(whole)) * (time - whole)
    };
    after.iter().enumerate().map(|(n, &sample)| f64::from(sample) * at(n as f64 * step - late)).sum()
}

#[test]
fn every_listed_word_has_its_clips() {
    let pack = Pack::builtin().unwrap();
    let mut listed = 0;
    for line in WORDS.lines().filter(|line| !line.starts_with('#')) {
        let fields: Vec<&str> = line.split('\t').collect();
        let word = pack.word(pack.index_of(fields[0]).unwrap_or_else(|| panic!("no clip for {}", fields[0])));
        assert_eq!(word.text, fields[1]);
        let natural = word.tiers[0].unwrap();
        for (tier, letter, ms) in [(Tier::Quick, 'Q', 250.0), (Tier::Tight, 'T', 180.0), (Tier::Syllable, 'S', 120.0)] {
            let clip = word.tiers[tier as usize];
            if fields[3].contains(letter) {
                assert!(clip.unwrap_or(natural).duration_ms <= ms, "{} in {tier:?}", word.id);
            } else {
                assert_eq!(clip, None, "{} in {tier:?}", word.id);
            }
        }
        listed += 1;
    }
    assert_eq!(listed, pack.words().count());
    assert!(listed > 200);
}

#[test]
fn every_word_a_plan_may_ask_for_is_in_every_pack() {
    for name in library::built_in() {
        let pack = library::built_in_pack(name).unwrap();
        let missing: Vec<_> = sequencer::words::vocabulary(pack.language()).into_iter().filter(|id| pack.index_of(id).is_none()).collect();
        assert!(missing.is_empty(), "{name}: no clips for {missing:?}");
        assert_eq!(pack.words().collect::<Vec<_>>(), formant::entries(pack.language()).map(|entry| entry.id).collect::<Vec<_>>());
    }
}

#[test]
fn every_number_to_240_is_made_of_words_in_the_packs() {
    for name in library::built_in() {
        let pack = library::built_in_pack(name).unwrap();
        for n in 1..=240 {
            let words = pack.language().number(n);
            assert!(!words.is_empty(), "{n} has no words");
            for id in words {
                assert!(pack.index_of(id).is_some(), "{n}: no clip of {name} for {id}");
            }
        }
    }
}

#[test]
fn the_synthesiser_says_every_word_in_every_language_on_its_beat() {
    for language in Language::ALL {
        let mut said = 0;
        for entry in formant::entries(language) {
            let natural = formant::say(&entry.sounds, entry.beat, Tier::Natural, &Speaker::USUAL).unwrap();
            let quick = formant::say(&entry.sounds, entry.beat, Tier::Quick, &Speaker::USUAL).unwrap();
            assert!(quick.samples.len() <= 6000, "{} lasts {} samples", entry.id, quick.samples.len());
            for utterance in [natural, quick] {
                let peak = utterance.samples.iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
                assert!((0.1..=0.83).contains(&peak), "{} peaks at {peak}", entry.id);
                let lasts = utterance.samples.len() as f64 / 24.0;
                assert!(utterance.attack_ms < lasts.min(300.0), "{}: attack {} of {lasts}", entry.id, utterance.attack_ms);
                assert!(utterance.samples.last().unwrap().abs() < 0.01, "{} ends with a step", entry.id);
            }
            said += 1;
        }
        assert!(said > 200, "{said} words in {}", language.code());
    }
}

#[test]
fn nobody_is_left_without_a_voice() {
    let nowhere = tempfile::tempdir().unwrap();
    for name in [None, Some("en-slt"), Some("es-formant"), Some("nobody"), Some("fr"), Some("é")] {
        let found = library::find(name, Some(nowhere.path()));
        assert_eq!(found.told.is_empty(), name.is_none_or(|name| library::built_in().any(|known| known == name)), "{name:?}");
        for word in sequencer::words::vocabulary(found.pack.language()) {
            assert!(found.pack.index_of(word).is_some(), "{name:?} cannot say {word}");
        }
    }
    let mut bare = Pack::empty("bare", Language::French, formant::RATE);
    library::speak_what_lacks(&mut bare);
    for word in sequencer::words::vocabulary(Language::French) {
        assert!(bare.index_of(word).is_some(), "the synthesiser cannot say {word}");
    }
}

#[test]
fn the_files_hold_the_samples_that_were_rendered() {
    for name in library::built_in() {
        let pack = library::built_in_pack(name).unwrap();
        let sums = std::fs::read_to_string(format!("{PACKS}/{name}/SHA256SUMS.pcm")).unwrap();
        let sums: HashMap<&str, &str> = sums.lines().map(|line| line.split_once("  ").unwrap()).map(|(sum, path)| (path, sum)).collect();
        assert_eq!(sums.len(), pack.sources.len());
        for source in &pack.sources {
            let mut hash = Sha256::new();
            for sample in recorded(source, pack.sample_rate).unwrap() {
                let pcm = sample * 32_768.0;
                assert_eq!(pcm, pcm.round(), "{}: decoding is exact", source.path);
                assert!(pcm.abs() <= 0.9 * 32_768.0, "{} peaks over 0.9", source.path);
                hash.update((pcm as i16).to_le_bytes());
            }
            let sum: String = hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
            assert_eq!(sum, sums[source.path.as_str()], "{} of {name}", source.path);
        }
    }
}

#[test]
fn ten_counts_fit_one_after_another_at_206_bpm() {
    for name in library::built_in() {
        let pack = library::built_in_pack(name).unwrap();
        let worst = |tier| {
            let clips = COUNTS.map(|id| spoken(&pack, id, tier));
            let longest = |ms: fn(&ClipInfo) -> f64| clips.iter().map(ms).fold(0.0, f64::max);
            longest(ClipInfo::tail_ms) + longest(|clip| clip.attack_ms)
        };
        let beat_ms = 60_000.0 / 206.0;
        assert!(worst(Tier::Natural) > beat_ms, "or the short tiers have no use");
        assert!(worst(Tier::Quick) <= beat_ms, "{name}: {} ms", worst(Tier::Quick));
    }
}

#[test]
fn a_word_with_no_clip_in_a_tier_speaks_its_next_longer_one() {
    let pack = Pack::builtin().unwrap();
    let eight = pack.word(pack.index_of("eight").unwrap());
    assert_eq!(eight.tiers[Tier::Quick as usize], None);
    assert_eq!(eight.spoken(Tier::Quick), eight.tiers[0]);
    assert_eq!(eight.spoken(Tier::Syllable), eight.tiers[Tier::Tight as usize]);
}

#[test]
fn an_impulse_stays_where_it_was() {
    for to in RATES {
        let mut converter = Converter::new(24_000, to).unwrap();
        for at in [0, 1, 37, 1023, 1024, 5000, 7199] {
            let mut clip = vec![0.0; 7200];
            clip[at] = 1.0;
            let out = converter.convert(clip).unwrap();
            assert_eq!(out.len() as u64, (7200 * u64::from(to)).div_ceil(24_000), "at {to} Hz");
            let peak = out.iter().enumerate().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs())).unwrap().0;
            // A peak can be told to one frame of the slower rate.
            let (was, is) = (at as f64 / 24_000.0, peak as f64 / f64::from(to));
            assert!((is - was).abs() <= 0.51 / f64::from(to), "at {to} Hz: {was} s became {is} s");
        }
    }
}

#[test]
fn resampling_moves_no_word() {
    let pack = Pack::builtin().unwrap();
    let clips = pack.decode(SampleRate::new(24_000).unwrap()).unwrap();
    for to in [44_100, 48_000, 96_000] {
        let rate = SampleRate::new(to).unwrap();
        let moved = pack.decode(rate).unwrap();
        assert_eq!(moved.len(), clips.len());
        for ((source, before), after) in pack.sources.iter().zip(&clips).zip(&moved) {
            let attack_ms = rate.seconds(after.attack()) * 1000.0;
            assert!((attack_ms - source.attack_ms).abs() <= 500.1 / f64::from(to), "{} at {to} Hz", source.path);
            let agrees = |late| agreement(before.samples(), after.samples(), to, late);
            // A frame of the pack is 0.04 ms.
            for late in [-1.0, 1.0] {
                assert!(agrees(0.0) > agrees(late), "{} at {to} Hz has moved towards {late} frames late", source.path);
            }
            let lasts_ms = after.samples().len() as f64 / f64::from(to) * 1000.0;
            assert!((lasts_ms - source.duration_ms).abs() < 0.1, "{} at {to} Hz", source.path);
            assert!(after.samples().iter().all(|s| s.abs() <= 0.8913), "{} at {to} Hz is over -1 dBFS", source.path);
        }
    }
}

#[test]
fn a_faulty_line_is_refused_with_its_reason() {
    let good = "one~q\tone\tcount\tQ\t250.0\t61.6\t52.5\t188.4";
    let row = Row::parse(good).unwrap_or_else(|fault| panic!("{fault}"));
    assert_eq!((row.name, row.id, row.text, row.tier), ("one~q", "one", "one", Tier::Quick));
    assert_eq!((row.duration_ms, row.p_centre_ms), (250.0, 61.6));
    for (from, to, says) in
        [("\tQ\t", "\tX\t", "tier"), ("250.0", "NaN", "dur_ms"), ("61.6", "-1", "p_centre_ms"), ("\tcount", "", "eight")]
    {
        let fault = Row::parse(&good.replace(from, to)).err().unwrap();
        assert!(fault.contains(says), "{fault}");
    }
    for origin in ["phones", "measured", "manual"] {
        assert!(Row::parse(&format!("{good}\t{origin}")).is_ok());
    }
    assert!(Row::parse(&format!("{good}\tguessed")).unwrap_err().contains("origin"));
    assert!(Row::parse(&good.replace("one~q", "../one")).unwrap_err().contains("id"));
    let mut pack = Pack::empty("bare", Language::English, formant::RATE);
    let source = Source { path: String::new(), sound: Recording::Made(Vec::new()), duration_ms: 250.0, attack_ms: 61.6 };
    assert!(pack.add(row.id, row.text, row.tier, source).unwrap_err().contains("before its word's natural one"));
}
