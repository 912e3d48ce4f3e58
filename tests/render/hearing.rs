//! What sounds when: pitches, silences, breaths and counts.

use super::{RATE, Rendering, demo_once, drill, frequency, room, score};
use synth::Bus;

#[test]
fn every_model_tone_is_at_its_pitch() {
    let mut measured = 0;
    for index in 0..4 {
        let rendering = Rendering::of(&demo_once(index));
        let mut seen: Vec<(String, String)> = Vec::new();
        for tone in rendering.lines("tone") {
            let key = (tone.section.clone().unwrap(), tone.written.clone().unwrap());
            let attack = RATE.hz() as usize / 4;
            let long_enough = tone.end - tone.at > u64::from(RATE.hz());
            if seen.contains(&key) || !long_enough {
                continue;
            }
            let sustained = &rendering.section(&key.0)[tone.at as usize + attack..tone.end as usize - RATE.hz() as usize / 8];
            if room().section(room().find(&key.0).unwrap()).unwrap().instrument.section_word() == "mallets" {
                continue; // struck, not sustained
            }
            let hz = tone.hz.unwrap();
            let cents = 1200.0 * (frequency(sustained, hz) / hz).log2();
            assert!(cents.abs() < 0.05, "{} {}: {cents} cents off {hz} Hz", key.0, key.1);
            seen.push(key);
            measured += 1;
        }
    }
    assert!(measured >= 20, "only {measured} tones measured");
}

#[test]
fn echo_and_rest_bars_hold_no_tone() {
    let mut checked = 0;
    for index in 0..4 {
        let rendering = Rendering::of(&demo_once(index));
        for turn in rendering.lines("turn").filter(|line| matches!(line.turn, "echo" | "rest" | "count" | "breath")) {
            for bus in Bus::all().filter(|bus| matches!(bus, Bus::Section(_) | Bus::Drone)) {
                assert!(rendering.is_silent(bus, turn.at..turn.end), "{bus:?} sounds in {turn:?}");
            }
            checked += 1;
        }
    }
    assert!(checked > 30, "{checked} bars");
}

#[test]
fn breath_bars_hold_the_breath_on_the_beats_the_file_says() {
    let text = "version = 1\ntitle = \"Breath\"\ntempo = 72\nrounds = 2\ngroups = [[\"Horns\"]]\n[line]\nHorns = { written = \"G4:4\" }\n\
                [[turn]]\nbreath = { bars = 1, beats = 2 }\n[[turn]]\nmodel = {}\n[[turn]]\nbreath = { bars = 2, beats = 3 }\n[[turn]]\necho = {}\n";
    let rendering = Rendering::of(&drill(text));
    let beat = f64::from(RATE.hz()) * 60.0 / 72.0;
    let breath = rendering.stem(Bus::Breath);
    let turns: Vec<_> = rendering.lines("turn").filter(|line| line.turn == "breath").collect();
    assert_eq!(turns.len(), 4);
    for (index, turn) in turns.iter().enumerate() {
        let beats = if index % 2 == 0 { 2.0 } else { 3.0 };
        let from = (turn.end as f64 - beats * beat).round() as usize;
        assert!(breath[turn.at as usize..from].iter().all(|sample| *sample == 0.0), "early in {turn:?}");
        let energy = |range: std::ops::Range<usize>| breath[range].iter().map(|sample| f64::from(*sample).powi(2)).sum::<f64>();
        let (start, end) = (from, turn.end as usize);
        let thirds = (end - start) / 3;
        assert!(energy(start..start + thirds) > 0.0);
        assert!(energy(end - 2 * thirds..end) > 2.0 * energy(start..start + thirds), "an inhale swells");
        assert!(breath[end..end + 4_800].iter().all(|sample| *sample == 0.0), "it ends where the playing starts");
    }
    assert_eq!(rendering.lines("breath").map(|line| line.beat.as_str()).collect::<Vec<_>>(), ["3", "2", "3", "2"]);
}

/// Count-offs by meter: common practice, no source; in 6/8 and 12/8 the dotted beats are counted.
#[test]
fn counts_are_the_words_of_the_meter() {
    for (meter, line, words) in [
        ("2/4", "G4:2", vec!["one", "two"]),
        ("3/4", "G4:3", vec!["one", "two", "three"]),
        ("4/4", "G4:4", vec!["one", "two", "three", "four"]),
        ("5/4", "G4:5", vec!["one", "two", "three", "four", "five"]),
        ("6/8", "G4:2", vec!["one", "two"]),
        ("6/8 in 6", "G4:6", vec!["one", "two", "three", "four", "five", "six"]),
        ("12/8", "G4:4", vec!["one", "two", "three", "four"]),
    ] {
        let text = format!(
            "version = 1\ntitle = \"Count\"\ntempo = 88\nmeter = \"{meter}\"\ngroups = [[\"Horns\"]]\n[line]\nHorns = {{ written = \"{line}\" }}\n\
             [[turn]]\ncount = {{ bars = 2 }}\n[[turn]]\nmodel = {{}}\n"
        );
        let rendering = Rendering::of(&drill(&text));
        assert_eq!(rendering.lines("word").filter_map(|line| line.word).collect::<Vec<_>>(), [words.clone(), words].concat(), "{meter}");
    }
}

#[test]
fn landmarks_and_sections_in_turn_sound_one_section_at_a_time() {
    let horns = room().find("Horns").unwrap();
    let landmarks = Rendering::of(&score(sequencer::compile::landmarks(&room(), horns).unwrap()));
    let written: Vec<_> = landmarks.lines("tone").filter_map(|line| line.written.clone()).collect();
    let wanted: Vec<_> = room().section(horns).unwrap().landmarks.iter().map(ToString::to_string).collect();
    assert_eq!(written, wanted);
    let in_turn = Rendering::of(&score(sequencer::compile::in_turn(&room(), "Bb3".parse().unwrap()).unwrap()));
    let tones: Vec<_> = in_turn.lines("tone").collect();
    assert!(tones.len() > 8, "{} sections", tones.len());
    assert!(tones.windows(2).all(|pair| pair[0].end <= pair[1].at && pair[0].section != pair[1].section));
    assert_eq!(in_turn.lines("word").count(), tones.len(), "each is named");
}
