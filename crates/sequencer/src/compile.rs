//! Drills, rolls, landmarks and sections in turn become plans.

mod builder;
mod climb;
mod hold;
mod parts;
mod problems;

pub use climb::{climb, recheck};
pub use hold::{hold, talk};
pub use problems::{CompileError, Place, Problem};

use pitch::{Concert, Key};
use units::{Beats, Tempo};

use crate::drill::{Drill, Group, Turn};
use crate::plan::{Follow, Part, PartPitch, Plan, PlanKind, Sound, TurnKind};
use crate::words::{self, Phrase};
use crate::{Division, Meter, Room, Section, SectionIndex, SectionSet, Syllables};
use builder::{Builder, StationHead};
use parts::Parts;

/// The most bars one plan holds: a day of 4/4 at 240.
const MAX_BARS: usize = 100_000;

/// How long a spoken call takes at least, and per word, in seconds; a call gets as many bars as that needs.
const CALL_SECONDS: f64 = 1.6;
const CALL_WORD_SECONDS: f64 = 0.6;

/// The tempo at which landmarks and sections in turn are played: common practice for beginners' long notes, no source.
pub const LISTENING_TEMPO: f64 = 72.0;

/// A drill, group after group.
///
/// # Errors
/// Every [`Problem`] of the drill in this room, at once.
pub fn drill(room: &Room, drill: &Drill) -> Result<Plan, CompileError> {
    let (parts, groups) = resolve(room, drill)?;
    let mut builder = Builder::new(PlanKind::Drill, drill.title.clone(), drill.tempo, drill.meter, drill.click);
    builder.adapt(drill.adaptive);
    builder.say_verdicts(drill.say_verdicts);
    for (index, (sections, label)) in groups.into_iter().enumerate() {
        let call = drill.call.then(|| call_of(room, sections, parts.sections(), index));
        let head = StationHead { label, sections, seat: None };
        let landmark = drill.adaptive.and_then(|_| landmark_of(room, &parts, sections));
        turns(&mut builder, &parts, drill, syllables(room, drill), head, Station { call, landmark, rounds: drill.rounds });
    }
    builder.finish(parts)
}

/// A drill taken seat by seat through one section; each seat is called by its number and takes one round.
///
/// # Errors
/// Every [`Problem`] of the drill in this room, or that the section has no line in it.
pub fn roll(room: &Room, drill: &Drill, section: SectionIndex) -> Result<Plan, CompileError> {
    let (parts, _) = resolve(room, drill)?;
    let Some(who) = room.section(section) else {
        return Err(CompileError::one(Place::Whole, Problem::NoSuchSection));
    };
    if !matches!(parts.part(section), Part::Notes(_)) {
        return Err(CompileError::one(Place::Whole, Problem::NothingForSection { section: who.name.clone() }));
    }
    let title = format!("{}: {}, seat by seat", drill.title, who.name);
    let mut builder = Builder::new(PlanKind::Roll, title, drill.tempo, drill.meter, drill.click);
    builder.say_verdicts(drill.say_verdicts);
    let sections = SectionSet::from_iter([section]);
    for seat in 1..=who.seats.get() {
        let mut call = vec!["seat"];
        call.extend(room.language.number(u32::from(seat)));
        let head = StationHead { label: format!("{}, seat {seat}", who.name), sections, seat: Some(seat) };
        turns(&mut builder, &parts, drill, syllables(room, drill), head, Station { call: Some(call), landmark: None, rounds: 1 });
    }
    builder.finish(parts)
}

/// One section's landmarks in order, each named aloud as it is written, then sounded for a bar.
///
/// # Errors
/// [`Problem::NoSuchSection`], or [`Problem::NoLandmarks`] for a section without any.
pub fn landmarks(room: &Room, section: SectionIndex) -> Result<Plan, CompileError> {
    let who = room.section(section).ok_or_else(|| CompileError::one(Place::Whole, Problem::NoSuchSection))?;
    if who.landmarks.is_empty() {
        return Err(CompileError::one(Place::Whole, Problem::NoLandmarks { section: who.name.clone() }));
    }
    let tuning = room.equal_tuning();
    let sections = SectionSet::from_iter([section]);
    let mut builder = Builder::new(PlanKind::Landmarks, format!("{}: landmarks", who.name), listening_tempo(), Meter::COMMON, true);
    let mut notes = Vec::new();
    for (index, written) in who.landmarks.iter().enumerate() {
        let pitch = parts::pitch_of(who.instrument, *written, &tuning);
        notes.push((pitch, Meter::COMMON.bar()));
        builder.station(StationHead { label: format!("{}: {written}", who.name), sections, seat: None });
        builder.round();
        landmark_bars(&mut builder, section, (index == 0).then(|| who.instrument.section_word()), pitch, TurnKind::Model);
    }
    builder.finish(Parts::of_one(room, section, &notes))
}

/// A landmark named aloud as it is written, and sounded for a bar.
fn landmark_bars(builder: &mut Builder, section: SectionIndex, name: Option<&'static str>, pitch: PartPitch, turn: TurnKind) {
    let sections = SectionSet::from_iter([section]);
    let call: Vec<_> = name.into_iter().chain(words::note(pitch.written.pitch())).collect();
    builder.bar(TurnKind::Call, sections);
    builder.sound(Beats::ZERO, Sound::Words(Phrase::new(&call)));
    builder.bar(turn, sections);
    builder.sound(Beats::ZERO, Sound::Tone { section, pitch, length: builder.meter().bar() });
}

/// The landmark nearest to the first note of a section that is a group of its own.
fn landmark_of(room: &Room, parts: &Parts, sections: SectionSet) -> Option<(SectionIndex, PartPitch)> {
    let mut all = sections.iter();
    let (Some(section), None) = (all.next(), all.next()) else { return None };
    let Part::Notes(notes) = parts.part(section) else { return None };
    let first = notes.iter().find_map(|note| note.pitch)?.written.semitone();
    let who = room.section(section)?;
    let nearest = who.landmarks.iter().min_by_key(|landmark| (landmark.semitone() - first).abs())?;
    Some((section, parts::pitch_of(who.instrument, *nearest, &room.equal_tuning())))
}

/// Every section's note for `concert`, one section after another, each named aloud, so that one section hears where its own lies.
///
/// # Errors
/// [`Problem::NothingFits`] if no section can play it in comfort.
pub fn in_turn(room: &Room, concert: Concert) -> Result<Plan, CompileError> {
    let line = crate::Line { notes: vec![(Some(concert), Meter::COMMON.bar())] };
    let drill = Drill {
        title: format!("Concert {concert}, section by section"),
        tempo: listening_tempo(),
        meter: Meter::COMMON,
        key: None,
        rounds: 1,
        groups: vec![Group::Everyone],
        everyone: Some(crate::SectionLine::Concert(line)),
        own: Vec::new(),
        turns: vec![Turn::Model],
        syllables: None,
        call: true,
        click: true,
        adaptive: None,
        say_verdicts: false,
    };
    // a drum has no note for a concert pitch
    each_in_turn(room, &drill, |section| section.instrument.is_pitched())
}

/// The model of every section of `drill`, one section after another, each named aloud.
///
/// # Errors
/// Every [`Problem`] of the drill in this room, or [`Problem::NothingFits`].
pub fn drill_in_turn(room: &Room, drill: &Drill) -> Result<Plan, CompileError> {
    each_in_turn(room, drill, |_| true)
}

fn each_in_turn(room: &Room, drill: &Drill, takes_part: impl Fn(&Section) -> bool) -> Result<Plan, CompileError> {
    let (parts, _) = resolve(room, drill)?;
    let mut builder = Builder::new(PlanKind::InTurn, drill.title.clone(), drill.tempo, drill.meter, drill.click);
    for (section, who) in room.indexed() {
        if !matches!(parts.part(section), Part::Notes(_)) || !takes_part(who) {
            continue;
        }
        let sections = SectionSet::from_iter([section]);
        let head = StationHead { label: who.name.clone(), sections, seat: None };
        builder.station(head);
        builder.round();
        call_bars(&mut builder, drill, sections, &[who.instrument.section_word()]);
        model(&mut builder, &parts, sections);
    }
    if builder.is_empty() {
        return Err(CompileError::one(Place::Whole, Problem::NothingFits { title: drill.title.clone() }));
    }
    builder.finish(parts)
}

/// Binds a drill to a room: whose line is what, and who is in which group.
fn resolve(room: &Room, drill: &Drill) -> Result<(Parts, Vec<(SectionSet, String)>), CompileError> {
    let mut problems = CompileError::default();
    let parts = Parts::fit(room, drill, &mut problems);
    let mut groups = Vec::new();
    for (index, group) in drill.groups.iter().enumerate() {
        match group {
            Group::Everyone => {
                if parts.bars() > 0 && parts.sections().is_empty() {
                    problems.push(Place::Group { group: index, member: None }, Problem::NothingFits { title: drill.title.clone() });
                }
                groups.push((parts.sections(), "everyone".to_owned()));
            }
            Group::Sections(names) => {
                let mut members = Vec::new();
                if names.is_empty() {
                    problems.push(Place::Group { group: index, member: None }, Problem::EmptyGroup);
                }
                for (member, name) in names.iter().enumerate() {
                    let place = Place::Group { group: index, member: Some(member) };
                    match room.find(name) {
                        None => problems.push(place, Problem::UnknownSection { name: name.clone() }),
                        Some(section) if *parts.part(section) == Part::Nothing => {
                            problems.push(place, Problem::NothingForSection { section: name.clone() });
                        }
                        Some(section) => members.push(section),
                    }
                }
                let fits = |section: &SectionIndex| matches!(parts.part(*section), Part::Notes(_));
                if !members.is_empty() && !members.iter().any(fits) {
                    problems.push(Place::Group { group: index, member: None }, Problem::NothingFits { title: names.join(" + ") });
                }
                groups.push((SectionSet::from_iter(members), names.join(" + ")));
            }
        }
    }
    if drill.groups.is_empty() {
        problems.push(Place::Whole, Problem::NoGroups);
    }
    if drill.rounds == 0 {
        problems.push(Place::Rounds, Problem::NoRounds);
    }
    check_turns(drill, syllables(room, drill), parts.bars(), &mut problems);
    if problems.is_empty() { Ok((parts, groups)) } else { Err(problems) }
}

fn check_turns(drill: &Drill, syllables: Syllables, line_bars: usize, problems: &mut CompileError) {
    if drill.turns.is_empty() {
        problems.push(Place::Whole, Problem::NoTurns);
    }
    let mut bars = 0_usize;
    for (index, turn) in drill.turns.iter().enumerate() {
        let place = Place::Turn(index);
        let length = match turn {
            Turn::Count { bars, .. } | Turn::Rest { bars } => usize::from(*bars),
            Turn::Breath { bars, beats, .. } => {
                let available = u32::from(*bars) * u32::from(drill.meter.beats());
                if *beats == 0 || u32::from(*beats) > available {
                    problems.push(place.clone(), Problem::BreathBeats { beats: *beats, available });
                }
                usize::from(*bars)
            }
            Turn::Model | Turn::Echo => line_bars,
            Turn::Talk { .. } => 1,
        };
        if length == 0 && !matches!(turn, Turn::Model | Turn::Echo) {
            problems.push(place, Problem::NoBars { turn: turn_kind(turn).word() });
        }
        if let Turn::Count { division, .. } | Turn::Breath { division, .. } = turn {
            check_division(*division, drill.meter, syllables, index, problems);
        }
        bars = bars.saturating_add(length);
    }
    if drill.turns.iter().all(|turn| matches!(turn, Turn::Talk { .. })) && !drill.turns.is_empty() {
        problems.push(Place::Whole, Problem::OnlyTalk);
    }
    let all = bars.saturating_mul(usize::from(drill.rounds)).saturating_mul(drill.groups.len());
    if all > MAX_BARS {
        problems.push(Place::Rounds, Problem::TooLong { bars: all, most: MAX_BARS });
    }
}

/// The way of counting between the beats: the drill's, or else the room's.
fn syllables(room: &Room, drill: &Drill) -> Syllables {
    drill.syllables.unwrap_or(room.syllables)
}

fn check_division(division: Division, meter: Meter, syllables: Syllables, turn: usize, problems: &mut CompileError) {
    let parts = division.parts();
    if !division.fits(meter) {
        let instead = if meter.divides_into() == 3 { "3 or 6" } else { "2, 3 or 4" };
        problems.push(Place::Division(turn), Problem::Division { meter: meter.to_string(), parts, instead });
    } else if syllables.between(division).is_none() {
        let ways = Syllables::that_say(division);
        problems.push(Place::Division(turn), Problem::NoSyllables { syllables, parts, ways });
    }
}

const fn turn_kind(turn: &Turn) -> TurnKind {
    match turn {
        Turn::Count { .. } => TurnKind::Count,
        Turn::Model => TurnKind::Model,
        Turn::Echo => TurnKind::Echo,
        Turn::Breath { .. } => TurnKind::Breath,
        Turn::Rest { .. } => TurnKind::Rest,
        Turn::Talk { .. } => TurnKind::Talk,
    }
}

/// What a station has besides the drill's turns.
struct Station {
    /// What is said to call it.
    call: Option<Vec<&'static str>>,
    /// What it may hear before a later round.
    landmark: Option<(SectionIndex, PartPitch)>,
    rounds: u16,
}

/// All rounds of one station: its call, then the drill's turns over and over.
fn turns(
    builder: &mut Builder,
    parts: &Parts,
    drill: &Drill,
    syllables: Syllables,
    head: StationHead,
    Station { call, landmark, rounds }: Station,
) {
    let sections = head.sections;
    builder.station(head);
    if let Some(call) = call {
        call_bars(builder, drill, sections, &call);
    }
    for round in 0..rounds {
        let before = builder.last_bar();
        builder.round();
        // the bar in front of counts that are passed by, one after another
        let mut passed_by = None;
        if let Some((section, pitch)) = landmark {
            let top = builder.next_bar();
            if round > 0 {
                landmark_bars(builder, section, None, pitch, TurnKind::Landmark);
                builder.follow(before, Follow::Jump(builder.next_bar()));
                passed_by = Some(before);
            }
            builder.landmark_from(top);
        }
        for turn in &drill.turns {
            match turn {
                Turn::Count { bars, first_round_only, division } => {
                    let before = *passed_by.get_or_insert(builder.last_bar());
                    count(builder, sections, *bars, (syllables, *division), None);
                    if *first_round_only && round > 0 {
                        // the bars stay for a return to this round's top, but the flow passes them by
                        builder.follow(before, Follow::Jump(builder.next_bar()));
                        continue;
                    }
                }
                Turn::Breath { bars, beats, division } => count(builder, sections, *bars, (syllables, *division), Some(*beats)),
                Turn::Model => model(builder, parts, sections),
                Turn::Echo => silent(builder, TurnKind::Echo, sections, parts.bars()),
                Turn::Rest { bars } => silent(builder, TurnKind::Rest, sections, usize::from(*bars)),
                Turn::Talk { note } => builder.wait(TurnKind::Talk, sections, note.clone()),
            }
            passed_by = None;
        }
    }
}

fn call_bars(builder: &mut Builder, drill: &Drill, sections: SectionSet, call: &[&'static str]) {
    let bars = calling_bars(drill.meter, drill.tempo, call.len());
    silent(builder, TurnKind::Call, sections, bars);
    builder.sound_bars_back(bars, Sound::Words(Phrase::new(call)));
}

/// How many bars a call of so many words takes.
fn calling_bars(meter: Meter, tempo: Tempo, words: usize) -> usize {
    let bar_seconds = f64::from(meter.beats()) * 60.0 / tempo.bpm();
    let needed = CALL_SECONDS.max(CALL_WORD_SECONDS * words as f64);
    (needed / bar_seconds).ceil().max(1.0) as usize
}

/// Counted bars, each beat divided aloud; with `breath`, an inhale over the last so many beats.
fn count(builder: &mut Builder, sections: SectionSet, bars: u16, (syllables, division): (Syllables, Division), breath: Option<u8>) {
    let kind = if breath.is_some() { TurnKind::Breath } else { TurnKind::Count };
    for _ in 0..bars {
        builder.bar(kind, sections);
        count_beats(builder, syllables, division);
    }
    if let Some(breath) = breath {
        let beats = builder.meter().bar() * i64::from(bars);
        builder.inhale(usize::from(bars), beats, Beats::whole(i64::from(breath)));
    }
}

/// Counts the last bar, each beat that lies in it divided aloud.
fn count_beats(builder: &mut Builder, syllables: Syllables, division: Division) {
    let Some(beats) = builder.last().map(|bar| bar.meter.beats()) else { return };
    let between = syllables.between(division).unwrap_or(&[]);
    for beat in 0..beats {
        let top = Beats::whole(i64::from(beat));
        // undivided, only the number tells which beat it is
        let own = syllables.on_the_beat().filter(|_| division != Division::Beat);
        if let Some(word) = own.or_else(|| words::count(usize::from(beat) + 1)) {
            builder.sound_in_measure(top, Sound::Words(Phrase::word(word)));
        }
        for (part, word) in (1..).zip(between) {
            builder.sound_in_measure(top + Beats::new(part, i64::from(division.parts())), Sound::Between(word));
        }
    }
}

fn model(builder: &mut Builder, parts: &Parts, sections: SectionSet) {
    let bars = parts.bars();
    silent(builder, TurnKind::Model, sections, bars);
    let meter = builder.meter().bar();
    for section in sections.iter() {
        let Part::Notes(notes) = parts.part(section) else { continue };
        for note in notes {
            if let Some(pitch) = note.pitch {
                builder.sound_at_turn(bars, note.start, Sound::Tone { section, pitch, length: note.length });
                builder.tie_over(bars, note.start, note.length, meter);
            }
        }
    }
}

fn silent(builder: &mut Builder, turn: TurnKind, sections: SectionSet, bars: usize) {
    for _ in 0..bars {
        builder.bar(turn, sections);
    }
}

/// What the voice says to call a group: everyone who has a line, up to three section names, or else the group's number.
fn call_of(room: &Room, sections: SectionSet, everyone: SectionSet, index: usize) -> Vec<&'static str> {
    let names: Vec<_> =
        sections.iter().filter_map(|section| room.section(section)).map(|section| section.instrument.section_word()).collect();
    match names.as_slice() {
        _ if sections == everyone => vec!["everyone"],
        [first, second] => vec![first, "and", second],
        [first, second, third] => vec![first, second, "and", third],
        [_] => names,
        _ => {
            let mut call = vec!["group"];
            call.extend(room.language.number(index as u32 + 1));
            call
        }
    }
}

fn listening_tempo() -> Tempo {
    Tempo::new(LISTENING_TEMPO).unwrap_or(Tempo::SLOWEST)
}

/// The key whose scale holds every spelled note of `pitches`, the nearest to B flat if several do: a band's home key (common practice, no
/// source).
#[must_use]
pub fn key_for(pitches: impl IntoIterator<Item = Concert>) -> Key {
    parts::key_for(pitches)
}
