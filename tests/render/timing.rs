//! Every sound on its frame.

use super::{RATE, Rendering, clips, demo_once, drill, pack, run, start};
use engine::{Bounce, LaidSound, Observer, Score};
use sequencer::cursor::LaidBar;
use synth::Bus;
use units::FrameInstant;

/// Notes every beat a sound belongs to, as beats since the first bar line.
#[derive(Default)]
pub(super) struct Beats {
    pub(super) bars: u64,
    per_bar: u64,
    first: Option<FrameInstant>,
    /// Beats (as a fraction) and the frame it was given.
    pub(super) sounds: Vec<((i64, i64), u64)>,
}

impl Beats {
    /// Holds every sound to the frame nearest to its beat, at so many tenths of a beat a minute.
    pub(super) fn assert_exact(&self, tenths: u128) {
        let first = u128::from(self.first.unwrap().0);
        for ((numerator, denominator), at) in &self.sounds {
            // exact time in frames: beats * 60 * rate * 10 / tenths of a beat per minute
            let upper = *numerator as u128 * 600 * u128::from(RATE.hz());
            let lower = *denominator as u128 * tenths;
            assert_eq!(u128::from(*at) - first, (2 * upper + lower) / (2 * lower), "{numerator}/{denominator} beats at {tenths}/10");
        }
    }
}

impl Observer for Beats {
    fn bar(&mut self, score: &Score, bar: &LaidBar) {
        self.first.get_or_insert(bar.start);
        self.per_bar = u64::from(score.plan.meter.beats());
        self.bars += 1;
    }

    fn sound(&mut self, _bar: &LaidBar, sound: &LaidSound) {
        let (at, beat) = match *sound {
            LaidSound::Word { at, beat, .. }
            | LaidSound::Tone { at, beat, .. }
            | LaidSound::Click { at, beat, .. }
            | LaidSound::Breath { at, beat, .. } => (at, beat),
        };
        let whole = ((self.bars - 1) * self.per_bar) as i64;
        self.sounds.push(((whole * beat.denominator() + beat.numerator(), beat.denominator()), at.0));
    }
}

#[test]
fn a_rendered_hour_has_every_sound_on_the_nearest_frame() {
    for (tempo, tenths) in [("72", 720_u128), ("76", 760), ("152", 1520), ("163.7", 1637)] {
        let groups = ["[\"Horns\"]"; 10].join(", ");
        let text = format!(
            "version = 1\ntitle = \"Hour\"\ntempo = {tempo}\nrounds = 200\ngroups = [{groups}]\n[line]\nHorns = {{ written = \"G4:1 E4:1/3 -:1/3 C4:1/3 E4:1.5 G4:1/2\" }}\n\
             [[turn]]\ncount = {{ bars = 1 }}\n[[turn]]\nmodel = {{}}\n[[turn]]\nbreath = {{ bars = 1, beats = 2 }}\n[[turn]]\necho = {{}}\n"
        );
        let score = drill(&text);
        let mut bounce = Bounce::new(RATE, clips());
        let mut beats = Beats::default();
        start(&mut bounce, &score);
        let hour = 3600 * RATE.hz() as usize;
        run(&mut bounce, hour / synth::BLOCK, &mut beats);
        assert!(beats.bars as f64 > 3599.0 * tenths as f64 / 10.0 / 60.0 / 4.0, "{} bars at {tempo}", beats.bars);
        assert!(beats.sounds.len() as u64 > 6 * beats.bars);
        beats.assert_exact(tenths);
    }
}

#[test]
fn tones_and_clicks_leave_silence_on_exactly_their_frame() {
    let rendering = Rendering::of(&demo_once(0));
    let mut tones = 0;
    for tone in rendering.lines("tone") {
        let stem = rendering.section(tone.section.as_deref().unwrap());
        let at = tone.at as usize;
        assert_eq!(stem[at - 1], 0.0, "{tone:?} is early");
        let onset = stem[at..].iter().position(|sample| *sample != 0.0).unwrap();
        assert!(onset <= 2, "{tone:?} is {onset} frames late");
        assert_eq!(stem[tone.end as usize], 0.0, "{tone:?} sounds on past its end");
        tones += 1;
    }
    assert!(tones >= 12, "{tones} tones");
    let clicks = rendering.stem(Bus::Click);
    for click in rendering.lines("click") {
        let at = click.at as usize;
        assert_eq!(clicks[at - 1], 0.0);
        assert!(clicks[at..at + 3].iter().any(|sample| *sample != 0.0), "{click:?}");
    }
}

#[test]
fn words_start_so_that_their_attack_is_on_the_beat_and_none_runs_into_the_next() {
    for tempo in [30, 60, 72, 104, 120, 152, 176, 208, 240] {
        let text = format!(
            "version = 1\ntitle = \"Count\"\ntempo = {tempo}\nrounds = 6\ngroups = [[\"Horns\"]]\nmeter = \"12/8 in 12\"\n[line]\nHorns = {{ written = \"G4:12\" }}\n[[turn]]\ncount = {{ bars = 1 }}\n"
        );
        let rendering = Rendering::of(&drill(&text));
        let words: Vec<_> = rendering.lines("word").collect();
        assert_eq!(words.len(), 6 * 12);
        let voice = rendering.stem(Bus::Voice);
        for (word, next) in words.iter().zip(words[1..].iter().map(Some).chain([None])) {
            let index = pack().index_of(word.word.unwrap()).unwrap();
            // the table of attacks, whichever length was chosen
            let lead = word.at - word.start.unwrap();
            let ms = lead as f64 * 1000.0 / f64::from(RATE.hz());
            let tabled = pack().word(index).tiers.iter().flatten().any(|clip| (clip.attack_ms - ms).abs() < 5.0);
            assert!(tabled, "{word:?}: {ms} ms is in no row of the table");
            let onset = word.start.unwrap() as usize;
            assert!(voice[onset..onset + 480].iter().any(|sample| sample.abs() > 1e-5), "{word:?} is not heard");
            if let Some(next) = next {
                assert!(word.end <= next.start.unwrap(), "at {tempo} {word:?} overlaps {next:?}");
            }
            // still a word, not a fragment: at least 85 ms after its attack
            let after = (word.end - word.at) as f64 / f64::from(RATE.hz());
            assert!(after > 0.085, "at {tempo} {word:?} is cut to {after} s after its attack");
        }
    }
}

/// Up to which tempo the words between the beats are spoken, and that they are ticked above: at every tempo each part of every beat is heard,
/// on its frame.
#[test]
fn beats_are_divided_aloud_as_long_as_there_is_time_and_ticked_above() {
    for (meter, beats, parts, spoken, ticked) in
        [("4/4", 4, 2, 162, 168), ("4/4", 4, 4, 104, 110), ("6/8", 2, 3, 132, 138), ("6/8", 2, 6, 65, 70)]
    {
        for tempo in [40, spoken, ticked] {
            let text = format!(
                "version = 1\ntitle = \"Count\"\ntempo = {tempo}\nmeter = \"{meter}\"\nclick = false\n[line]\nall = {{ concert = \"F4:{beats}\" }}\n\
                 [[turn]]\ncount = {{ bars = 2, subdivide = {parts} }}\n[[turn]]\nmodel = {{}}\n"
            );
            let rendering = Rendering::of(&drill(&text));
            let heard = |kind| rendering.lines(kind).filter(|line| line.turn == "count").map(|line| line.at).collect::<Vec<_>>();
            let (words, clicks) = (heard("word"), heard("click"));
            let between = 2 * beats * (parts - 1);
            let expected = if tempo == ticked { (2 * beats, between) } else { (2 * beats + between, 0) };
            assert_eq!((words.len(), clicks.len()), expected, "{meter} in {parts} at {tempo}");
            let mut all = [words, clicks].concat();
            all.sort_unstable();
            let step = 60.0 / f64::from(tempo) / parts as f64 * f64::from(RATE.hz());
            for (index, at) in all.iter().enumerate() {
                let exact = all[0] as f64 + step * index as f64;
                assert!((*at as f64 - exact).abs() <= 1.0, "{meter} in {parts} at {tempo}: {at} for {exact}");
            }
            let words: Vec<_> = rendering.lines("word").collect();
            for pair in words.windows(2) {
                assert!(pair[0].end <= pair[1].start.unwrap(), "{:?} runs into {:?}", pair[0], pair[1]);
            }
        }
    }
}

#[test]
fn calls_are_said_whole_at_every_tempo() {
    for (meter, beats, tempo) in [("2/4", 2, 120), ("2/4", 2, 152), ("2/4", 2, 240), ("4/4", 4, 120), ("3/4", 3, 100), ("6/8", 2, 60)] {
        let text = format!(
            "version = 1\ntitle = \"Call\"\ntempo = {tempo}\nmeter = \"{meter}\"\ncall = true\n\
             groups = [[\"Clarinets\", \"Trumpets\"], [\"Flutes\", \"Clarinets\", \"Trombones\"]]\n[line]\nall = {{ concert = \"F4:{beats}\" }}\n\
             [[turn]]\ncount = {{ bars = 1 }}\n[[turn]]\nmodel = {{}}\n"
        );
        let rendering = Rendering::of(&drill(&text));
        let called: Vec<_> = rendering.lines("word").filter(|line| line.turn == "call").collect();
        assert_eq!(called.len(), 3 + 4, "{meter} at {tempo}");
        for word in called {
            let index = pack().index_of(word.word.unwrap()).unwrap();
            let whole = pack().word(index).tiers[0].unwrap().duration_ms;
            let said = (word.end - word.start.unwrap()) as f64 * 1000.0 / f64::from(RATE.hz());
            assert!((said - whole).abs() < 0.1, "{meter} at {tempo}: {:?} lasts {said} of {whole} ms", word.word);
        }
    }
}
