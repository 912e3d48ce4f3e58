//! Devices of every kind: 1 to 32 channels, 8 to 192 kHz.

use super::{LONG, frequency_at, pack, room};
use engine::journal::Recipe;
use engine::{LaidSound, Observer, Score};
use sequencer::cursor::LaidBar;
use sequencer::{Cue, Drone, StackTone};
use std::sync::Arc;
use synth::{BLOCK, Bus, ClipBank, Stems};
use units::SampleRate;

const RATES: [u32; 11] = [8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000];

fn score(rate: SampleRate) -> Arc<Score> {
    let plan = book::read_drill("test.toml", LONG).unwrap().compile(&room()).unwrap();
    Arc::new(Score::new(plan, &room(), pack(), rate))
}

#[test]
fn any_number_of_channels_gets_the_same_sound() {
    let rate = SampleRate::DEFAULT;
    let play = |channels: usize| {
        let (mut controls, mut renderer) = engine::pair(rate);
        controls.load(score(rate), None, Recipe::default());
        controls.drone(Some((&room().drone, &room())));
        controls.cue(Cue::Go);
        let mut all = Vec::new();
        // sizes that fit no block
        for frames in [1_usize, 63, 64, 65, 333, 4_096, 20_000].into_iter().cycle().take(14) {
            let mut out = vec![f32::NAN; frames * channels];
            renderer.fill(&mut out, channels);
            all.extend(out);
        }
        all
    };
    let stereo = play(2);
    assert!(stereo.iter().any(|sample| sample.abs() > 0.01));
    let mono = play(1);
    assert!(mono.iter().zip(stereo.chunks(2)).all(|(mono, pair)| *mono == 0.5 * (pair[0] + pair[1])));
    for channels in 3..=32 {
        let many = play(channels);
        for (frame, pair) in many.chunks(channels).zip(stereo.chunks(2)) {
            assert_eq!(frame[..2], *pair, "{channels} channels");
            assert!(frame[2..].iter().all(|sample| *sample == 0.0), "{channels} channels");
        }
    }
}

/// Clicks as laid out, with their beats since the first bar line.
#[derive(Default)]
struct Clicks {
    bars: i64,
    first: Option<u64>,
    clicks: Vec<(i64, u64)>,
}

impl Observer for Clicks {
    fn bar(&mut self, _score: &Score, bar: &LaidBar) {
        self.first.get_or_insert(bar.start.0);
        self.bars += 1;
    }

    fn sound(&mut self, _bar: &LaidBar, sound: &LaidSound) {
        if let LaidSound::Click { at, beat, .. } = *sound {
            self.clicks.push((4 * (self.bars - 1) + beat.numerator() / beat.denominator(), at.0));
        }
    }
}

#[test]
fn every_rate_is_in_time_and_in_tune() {
    for hz in RATES {
        let rate = SampleRate::new(hz).unwrap();
        let (mut controls, mut renderer) = engine::pair(rate);
        // two rates speak as well: the ends of the range
        let clips = if hz == RATES[0] || hz == RATES[RATES.len() - 1] { pack().decode(rate).unwrap() } else { Vec::new() };
        controls.clips(Arc::new(ClipBank::new(clips)));
        let drone = Drone { root: "A3".parse().unwrap(), stack: vec![StackTone::Root], ..room().drone };
        let class = sequencer::Room { drone: drone.clone(), ..room() };
        controls.drone(Some((&drone, &class)));
        controls.load(score(rate), None, Recipe::default());
        controls.cue(Cue::Go);
        let mut clicks = Clicks::default();
        let mut stems = Stems::new();
        let (mut drone, mut click, mut loudest) = (Vec::new(), Vec::new(), 0.0_f32);
        for _ in 0..10 * hz as usize / BLOCK {
            let out = renderer.next_block(&mut clicks, Some(&mut stems));
            loudest = out.as_flattened().iter().fold(loudest, |most, sample| most.max(sample.abs()));
            drone.extend_from_slice(stems.get(Bus::Drone));
            click.extend_from_slice(stems.get(Bus::Click));
            controls.poll();
        }
        assert!(loudest > 0.01 && loudest < 1.0, "{loudest} at {hz} Hz");
        let cents = 1200.0 * (frequency_at(f64::from(hz), &drone[4 * hz as usize..], 220.0) / 220.0).log2();
        assert!(cents.abs() < 1e-3, "{cents} cents off at {hz} Hz");
        let first = clicks.first.unwrap();
        let sounded = clicks.clicks.iter().filter(|(_, at)| (*at as usize) < click.len() - 8);
        let mut heard = 0;
        for (beat, at) in sounded {
            // 132 beats a minute
            let exact = first + (*beat as u64 * 60 * u64::from(hz) * 2 + 132) / (2 * 132);
            assert_eq!(*at, exact, "beat {beat} at {hz} Hz");
            let at = *at as usize;
            assert!(at == 0 || click[at - 1] == 0.0, "the click of beat {beat} is early at {hz} Hz");
            assert!(click[at..at + 3].iter().any(|sample| *sample != 0.0), "the click of beat {beat} is late at {hz} Hz");
            heard += 1;
        }
        assert!(heard > 18, "{heard} clicks at {hz} Hz");
        let counts = controls.poll().counts;
        assert_eq!((counts.non_finite, counts.lost_sounds), (0, 0), "at {hz} Hz");
    }
}
