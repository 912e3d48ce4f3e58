use super::{concert, middle_note, room, written};
use crate::compile::{self, Place, Problem};
use crate::plan::{Follow, Part, PlannedSound, Sound};
use crate::{Division, Group, Meter, Plan, SectionIndex, Syllables, Turn, TurnKind};
use units::Beats;

fn words(plan: &Plan, bar: usize) -> Vec<(Beats, &'static str)> {
    let bar = &plan.bars[bar];
    let said = |sound: &PlannedSound| match &sound.sound {
        Sound::Words(phrase) => Some((sound.beat, phrase.words()[0])),
        _ => None,
    };
    plan.sounds_of(bar).iter().filter_map(said).collect()
}

fn tones(plan: &Plan, bar: usize) -> Vec<(SectionIndex, String, String)> {
    let tone = |sound: &PlannedSound| match sound.sound {
        Sound::Tone { section, pitch, .. } => Some((section, pitch.written.to_string(), pitch.concert.to_string())),
        _ => None,
    };
    plan.sounds_of(&plan.bars[bar]).iter().filter_map(tone).collect()
}

#[test]
fn a_drill_goes_through_its_turns_rounds_and_groups_in_order() {
    let plan = compile::drill(&room(), &middle_note()).unwrap();
    let turns: Vec<_> = plan.bars.iter().map(|bar| bar.turn).collect();
    use TurnKind::{Breath, Count, Echo, Model};
    let round = [Count, Model, Breath, Echo, Breath];
    assert_eq!(turns, round.repeat(12));
    assert_eq!(plan.stations.iter().map(|station| station.label.as_str()).collect::<Vec<_>>(), ["Horns", "Flutes + trumpets", "everyone"]);
    assert_eq!(plan.stations[1].rounds, [20, 25, 30, 35]);
    assert_eq!(plan.bars[59].follow, Follow::End);
}

#[test]
fn horns_keep_their_written_note_a_fourth_below_the_band() {
    let plan = compile::drill(&room(), &middle_note()).unwrap();
    assert_eq!(tones(&plan, 1), [(SectionIndex(3), "G4".to_owned(), "C4".to_owned())]);
    let everyone = tones(&plan, 41);
    assert!(everyone.contains(&(SectionIndex(2), "G4".to_owned(), "F4".to_owned())), "{everyone:?}");
    assert!(everyone.contains(&(SectionIndex(0), "F5".to_owned(), "F5".to_owned())), "flutes an octave up: {everyone:?}");
    assert!(everyone.contains(&(SectionIndex(4), "F3".to_owned(), "F3".to_owned())), "trombones an octave down: {everyone:?}");
}

#[test]
fn count_and_breath_bars_count_the_meter_and_breathe_on_the_last_beats() {
    let mut drill = middle_note();
    let plan = compile::drill(&room(), &drill).unwrap();
    let counted = [(Beats::whole(0), "one"), (Beats::whole(1), "two"), (Beats::whole(2), "three"), (Beats::whole(3), "four")];
    assert_eq!(words(&plan, 0), counted);
    assert_eq!(words(&plan, 2), counted);
    let breath = |plan: &Plan, bar: usize| {
        let inhale = |sound: &PlannedSound| match sound.sound {
            Sound::Breath { length } => Some((sound.beat, length)),
            _ => None,
        };
        plan.sounds_of(&plan.bars[bar]).iter().find_map(inhale)
    };
    assert_eq!(breath(&plan, 2), Some((Beats::whole(2), Beats::whole(2))));
    assert_eq!(breath(&plan, 0), None);
    drill.meter = "6/8".parse().unwrap();
    drill.everyone = Some(concert(&[("F4", 2)]));
    drill.own.clear();
    let plan = compile::drill(&room(), &drill).unwrap();
    assert_eq!(words(&plan, 0), counted[..2]);
    assert_eq!(breath(&plan, 2), Some((Beats::ZERO, Beats::whole(2))));
}

#[test]
fn echo_and_rest_bars_hold_nothing_but_the_pulse() {
    let mut drill = middle_note();
    drill.turns.push(Turn::Rest { bars: 2 });
    let plan = compile::drill(&room(), &drill).unwrap();
    let mut seen = 0;
    for bar in plan.bars.iter().filter(|bar| matches!(bar.turn, TurnKind::Echo | TurnKind::Rest)) {
        seen += 1;
        assert!(plan.sounds_of(bar).iter().all(|sound| matches!(sound.sound, Sound::Click { .. })));
        assert_eq!(plan.sounds_of(bar).len(), 4);
    }
    assert_eq!(seen, 12 * 3);
}

#[test]
fn a_count_for_the_first_round_only_is_passed_by_later_but_stays_there_for_a_return() {
    let mut drill = middle_note();
    drill.turns[0] = Turn::Count { bars: 1, first_round_only: true, division: Division::Beat };
    let plan = compile::drill(&room(), &drill).unwrap();
    assert_eq!(plan.bars[4].follow, Follow::Jump(6));
    assert_eq!(plan.round_top(6), 5);
    assert_eq!(plan.bars[5].turn, TurnKind::Count);
    assert_eq!(plan.bars[19].follow, Follow::Next, "the next group is counted in");
}

#[test]
fn counts_for_the_first_round_only_are_passed_by_together() {
    let mut drill = middle_note();
    let once = Turn::Count { bars: 1, first_round_only: true, division: Division::Beat };
    drill.turns = vec![once.clone(), once, Turn::Model];
    let plan = compile::drill(&room(), &drill).unwrap();
    assert_eq!((plan.following(2), plan.bars[5].turn), (Some(5), TurnKind::Model));
}

#[test]
fn a_large_group_is_called_by_its_number_and_everyone_only_when_all_play() {
    let mut drill = middle_note();
    drill.call = true;
    let named = ["Flutes", "Clarinets", "Trumpets", "Horns"].map(str::to_owned).to_vec();
    drill.groups = vec![Group::Everyone, Group::Sections(named)];
    let plan = compile::drill(&room(), &drill).unwrap();
    let call = |station: usize| {
        let bar = &plan.bars[plan.stations[station].first_bar as usize];
        let words = plan.sounds_of(bar).iter().find_map(|sound| match sound.sound {
            Sound::Words(phrase) => Some(phrase.words().to_vec()),
            _ => None,
        });
        words.unwrap()
    };
    assert_eq!(call(0), ["everyone"]);
    assert_eq!(call(1), ["group", "two"]);
}

#[test]
fn a_roll_calls_every_seat_of_its_section() {
    let plan = compile::roll(&room(), &middle_note(), SectionIndex(3)).unwrap();
    assert_eq!(plan.stations.iter().map(|station| station.seat).collect::<Vec<_>>(), [Some(1), Some(2), Some(3)]);
    let Sound::Words(call) = plan
        .sounds_of(&plan.bars[plan.stations[2].first_bar as usize])
        .iter()
        .find(|sound| matches!(sound.sound, Sound::Words(_)))
        .unwrap()
        .sound
    else {
        unreachable!()
    };
    assert_eq!(call.words(), ["seat", "three"]);
    assert_eq!(plan.bars.len(), 3 * 6);
}

#[test]
fn landmarks_are_named_as_written_and_sound_a_fifth_lower_on_the_horn() {
    let plan = compile::landmarks(&room(), SectionIndex(3)).unwrap();
    assert_eq!(tones(&plan, 1), [(SectionIndex(3), "G4".to_owned(), "C4".to_owned())]);
    assert_eq!(words(&plan, 2), [(Beats::ZERO, "letter_e")]);
    assert_eq!(
        compile::landmarks(&room(), SectionIndex(4)).unwrap_err().problems[0].1,
        Problem::NoLandmarks { section: "Trombones".to_owned() }
    );
}

#[test]
fn sections_in_turn_each_sound_alone_after_their_name() {
    let plan = compile::in_turn(&room(), "F4".parse().unwrap()).unwrap();
    assert_eq!(plan.stations.len(), 5);
    for (index, station) in plan.stations.iter().enumerate() {
        let bars = station.first_bar as usize..plan.stations.get(index + 1).map_or(plan.bars.len(), |next| next.first_bar as usize);
        let sounding: Vec<_> = bars.flat_map(|bar| tones(&plan, bar)).collect();
        assert_eq!(sounding.len(), 1);
        assert_eq!(sounding[0].0, SectionIndex(index as u8));
    }
}

#[test]
fn every_trouble_of_a_drill_is_told_at_once_with_its_place() {
    let mut drill = middle_note();
    drill.groups.push(Group::Sections(vec!["Hornz".to_owned()]));
    drill.own.push(("Kazoos".to_owned(), written(&[("C4", 4)])));
    drill.everyone = Some(concert(&[("F4", 3)]));
    drill.turns.push(Turn::Breath { bars: 1, beats: 5, division: Division::Beat });
    drill.rounds = 0;
    let problems = compile::drill(&room(), &drill).unwrap_err().problems;
    let places: Vec<_> = problems.iter().map(|(place, _)| place.clone()).collect();
    assert!(places.contains(&Place::Group { group: 3, member: Some(0) }));
    assert!(places.contains(&Place::Own(1)));
    assert!(places.contains(&Place::Everyone));
    assert!(places.contains(&Place::Turn(5)));
    assert!(places.contains(&Place::Rounds));
    let text = problems.iter().map(|(_, problem)| problem.to_string()).collect::<Vec<_>>().join("\n");
    assert!(text.contains("add 1 more, or a rest (-:1) at the end"), "{text}");
}

#[test]
fn a_note_outside_the_instrument_is_refused_and_one_outside_comfort_is_told() {
    let mut drill = middle_note();
    drill.own = vec![("Horns".to_owned(), written(&[("G4", 2), ("C5", 2)]))];
    let plan = compile::drill(&room(), &drill).unwrap();
    assert!(plan.notices.iter().any(|notice| notice.section == Some(SectionIndex(3)) && notice.text.contains("C5")), "{:?}", plan.notices);
    drill.own = vec![("Horns".to_owned(), written(&[("G7", 4)]))];
    let error = compile::drill(&room(), &drill).unwrap_err();
    assert!(matches!(&error.problems[0], (Place::Own(0), Problem::OutsideInstrument { note, .. }) if note == "G7"));
}

#[test]
fn a_section_for_which_nothing_fits_sits_out_and_is_told_what_would() {
    let mut drill = middle_note();
    // two octaves: no comfortable range holds them
    drill.everyone = Some(concert(&[("F3", 1), ("F4", 1), ("F5", 1), ("F4", 1)]));
    let error = compile::drill(&room(), &drill).map(|plan| plan.title).unwrap_err();
    assert_eq!(error.problems, [(Place::Group { group: 1, member: None }, Problem::NothingFits { title: "Flutes + trumpets".to_owned() })]);
    drill.groups = vec![Group::Everyone];
    let plan = compile::drill(&room(), &drill).unwrap();
    assert!(matches!(plan.part(SectionIndex(0)), Part::DoesNotFit { would_fit } if !would_fit.is_empty()));
    assert!(plan.notices.iter().any(|notice| notice.text.starts_with("Flutes sit out")));
}

#[test]
fn an_unspelled_key_is_taken_from_the_notes() {
    let key = |notes: &[&str]| compile::key_for(notes.iter().map(|note| note.parse().unwrap())).fifths();
    assert_eq!(key(&["F4"]), -2, "B flat, the band's home");
    assert_eq!(key(&["F#4"]), 1);
    assert_eq!(key(&["Db4", "F4"]), -4);
    assert_eq!(key(&["B3", "C4"]), 0);
}

#[test]
fn divided_counts_fit_their_meter_and_have_words() {
    let problems = |meter: &str, division, syllables| {
        let mut drill = middle_note();
        drill.meter = meter.parse().unwrap();
        drill.everyone = Some(concert(&[("F4", i64::from(drill.meter.beats()))]));
        drill.own.clear();
        drill.syllables = Some(syllables);
        drill.turns[0] = Turn::Count { bars: 1, first_round_only: false, division };
        compile::drill(&room(), &drill).map_or_else(|error| error.problems, |_| Vec::new())
    };
    for meter in ["2/4", "4/4", "3/2", "6/8 in 6", "6/8", "12/8"] {
        for division in Division::ALL {
            for syllables in Syllables::ALL {
                let compound = meter.parse::<Meter>().unwrap().divides_into() == 3;
                let fits = match division.parts() {
                    1 | 3 => true,
                    6 => compound,
                    _ => !compound,
                };
                let found = problems(meter, division, syllables);
                let spoken = syllables.between(division).is_some();
                assert_eq!(found.is_empty(), fits && spoken, "{meter} in {division:?} by {syllables}: {found:?}");
                assert!(found.iter().all(|(place, _)| *place == Place::Division(0)));
            }
        }
    }
    let told = |meter, division, syllables| problems(meter, division, syllables)[0].1.to_string();
    assert_eq!(told("6/8", Division::Four, Syllables::LaLi), "a beat of 6/8 is not counted in 4 parts; write subdivide = 3 or 6");
    assert!(
        told("6/8", Division::Six, Syllables::EAndA)
            .starts_with("the way of counting \"e-and-a\" has no words for 6 to a beat; write syllables = \"la-li\", ")
    );
}
