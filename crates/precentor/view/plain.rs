//! Line mode: what changed, one event a line, numbered, in plain letters; for screen readers, logs and pipes.

use super::facts::{Facts, Reading, Reads, readings};
use crate::app::State;
use crate::app::action::Focus;
use crate::app::state::{ChooserOf, Desk, DeskRow, Heard, Over, Sound, Sounding, Standing, Voice};
use crate::inputs::{Place, Verdict, table};
use crate::text;
use std::sync::Arc;

/// Tells what changed since it last spoke.
#[derive(Clone, Debug, Default)]
pub struct Speaker {
    said: Option<Said>,
    /// What every section reads, as last told.
    readings: Vec<String>,
    lines: u64,
}

/// What was told last.
#[derive(Clone, Debug, PartialEq)]
struct Said {
    /// The plan, by its address: an edited plan is another.
    plan: usize,
    going: String,
    bar: Option<u32>,
    asked: Option<sequencer::Cue>,
    sound: Sound,
    voice: Voice,
    told: Option<String>,
    over: Option<Over>,
    desk: Desk,
    level: Option<i32>,
    tempo: Option<units::Tempo>,
    drone: Option<String>,
    quit_asked: bool,
    focus: Focus,
    heard: Option<Heard>,
    /// Who plays near the drone, and how it beats.
    near: Vec<String>,
    /// What somebody who plays freely sounds, and whether the microphone hears the drone itself.
    sounding: Option<Sounding>,
    under_a_drone: bool,
}

/// By how many cents a note must move to be told anew: no player holds one stiller than half of it, and lines that never end are read by nobody.
const MOVED: f64 = 10.0;

impl Said {
    fn of(state: &State, facts: &Facts) -> Self {
        let turn_opens = state.bar().is_some_and(|bar| bar.opens_turn);
        Self {
            plan: state.leading().map_or(0, |led| Arc::as_ptr(led) as usize),
            going: format!("{} {}", facts.going.word, facts.sentence),
            // a turn of the same sort may follow itself in the next round
            bar: (state.pulse.is_moving() && turn_opens).then_some(state.pulse.bar),
            asked: state.asked,
            sound: state.sound.clone(),
            voice: state.voice.clone(),
            told: state.told.as_ref().map(|(told, _)| told.clone()),
            over: state.over.clone(),
            desk: state.desk.clone(),
            level: state.pulse.level,
            tempo: state.pulse.tempo,
            drone: state.pulse.drone.then(|| text::stage::drone_sounds(&state.desk)),
            quit_asked: state.quit_asked.is_some(),
            focus: state.focus,
            heard: state.pedals.heard.first().cloned(),
            near: super::over::near(state).into_iter().map(|(line, _)| line).collect(),
            sounding: match &state.over {
                Some(Over::OpenEar(open)) => open.sounding,
                _ => state.at_the_desk.and_then(|heard| heard.sounding),
            },
            under_a_drone: state.input.is_some_and(|input| input.under_a_drone),
        }
    }

    /// Takes what sounds as it was told before, where it has hardly moved.
    fn keep_still(&mut self, was: &Self) {
        if let (Some(told), Some(sounds)) = (was.sounding, self.sounding)
            && told.written == sounds.written
            && was.under_a_drone == self.under_a_drone
            && (told.cents.0 - sounds.cents.0).abs() < MOVED
        {
            (self.sounding, self.near) = (was.sounding, was.near.clone());
            if let Some(Over::OpenEar(open)) = &mut self.over {
                open.sounding = was.sounding;
            }
        }
    }
}

impl Speaker {
    /// The lines to be told now, each with its number; none if nothing changed.
    pub fn news(&mut self, state: &State) -> Vec<String> {
        let facts = Facts::of(state);
        let mut now = Said::of(state, &facts);
        if let Some(was) = &self.said {
            now.keep_still(was);
        }
        let before = self.said.replace(now.clone());
        let mut lines = Vec::new();
        let was = before.as_ref();
        if was.is_none_or(|was| was.plan != now.plan) {
            let readings = read_aloud(state);
            lines.push(title(state));
            if readings != self.readings {
                lines.extend(readings.iter().cloned());
                self.readings = readings;
            }
        }
        if was.is_none_or(|was| was.sound != now.sound) {
            let calm = matches!(state.sound.standing, Standing::Opening | Standing::Playing);
            lines.push(if calm { text::status::standing(&state.sound) } else { state.sound.says.clone() });
        }
        if now.voice != Voice::Ready && was.is_none_or(|was| was.voice != now.voice) {
            lines.push(text::status::VOICE_LOADING.to_owned());
        }
        // the sound's own sentence was told a moment ago
        if let Some(told) = &now.told
            && *told != state.sound.says
            && was.is_none_or(|was| was.told.as_ref() != Some(told))
        {
            lines.push(told.clone());
        }
        let desk_changed = matches!(now.over, Some(Over::DroneDesk(_))) && was.is_some_and(|was| was.desk != now.desk);
        if desk_changed || now.over != was.and_then(|was| was.over.clone()) {
            lines.extend(state.over.as_ref().map(|over| page(state, over, was.and_then(|was| was.over.as_ref()))).unwrap_or_default());
        }
        if was.is_some_and(|was| was.near != now.near) {
            lines.extend(now.near.iter().cloned());
        }
        if let Some(heard) = &now.heard
            && was.is_none_or(|was| was.heard != now.heard)
        {
            let deed = state.pedals.bindings.does(heard.signal);
            let from = text::pedals::from(heard.port.as_deref());
            lines.push(format!("{}, {from}", text::pedals::heard(heard.signal, deed, heard.times)));
        }
        if was.is_some_and(|was| was.focus != now.focus && now.focus == Focus::Elsewhere) {
            lines.push(text::status::elsewhere(!state.pedals.ports.is_empty()).to_owned());
        }
        let turn_changed = was.is_none_or(|was| was.going != now.going || (was.bar != now.bar && now.bar.is_some()));
        if turn_changed {
            let place = if facts.place.is_empty() { String::new() } else { format!(" {}.", facts.place) };
            let stop = if facts.sentence.ends_with(['.', '?', '!']) { "" } else { "." };
            let next = facts.next_in(u16::MAX);
            lines.push(format!("{}. {}{stop}{place} {} {next}.", facts.going.word, facts.sentence, text::stage::NEXT));
        } else if now.asked.is_some() && was.is_some_and(|was| was.asked != now.asked) {
            lines.push(format!("{} {}.", text::stage::NEXT, facts.next_in(u16::MAX)));
        }
        if was.is_some_and(|was| was.drone != now.drone) {
            lines.push(now.drone.clone().unwrap_or_else(|| text::stage::DRONE_ENDS.to_owned()));
        }
        if was.is_some_and(|was| was.level.is_some() && was.level != now.level) {
            lines.push(text::status::level(now.level));
        }
        if let Some(tempo) = now.tempo
            && was.is_some_and(|was| was.tempo.is_some() && was.tempo != now.tempo)
        {
            lines.push(text::status::tempo(tempo.bpm()));
        }
        if now.quit_asked && was.is_some_and(|was| !was.quit_asked) {
            lines.push(format!("q {}", text::status::QUIT_AGAIN));
        }
        self.number(lines)
    }

    /// A line that answers a word nobody knows.
    pub fn answer(&mut self, line: String) -> Vec<String> {
        self.number(vec![line])
    }

    fn number(&mut self, lines: Vec<String>) -> Vec<String> {
        lines
            .iter()
            .flat_map(|line| line.lines())
            .map(|line| {
                self.lines += 1;
                format!("{} {line}", self.lines)
            })
            .collect()
    }
}

/// The room and what is led.
fn title(state: &State) -> String {
    let title = state.plan().map_or_else(String::new, |plan| format!(": {}", plan.title));
    format!("{}{title}", state.class().name)
}

/// What every section reads.
fn read_aloud(state: &State) -> Vec<String> {
    let line = |reading: &Reading| {
        let reads = match &reading.reads {
            Reads::Notes(notes, _) => {
                let words: Vec<String> =
                    notes.iter().map(|note| note.map_or_else(|| "-".to_owned(), |note| reading.called(note))).collect();
                format!("{} {}", text::stage::READ, words.join(" "))
            }
            Reads::SitsOut(would_fit) => format!("{}: {would_fit}", text::stage::SITS_OUT),
            Reads::Nothing => return None,
        };
        Some(format!("{} {reads} ({}, {} clef)", reading.name, reading.instrument, reading.clef))
    };
    readings(state).iter().filter_map(line).collect()
}

/// A page that was opened, or the line of a list that is now marked.
fn page(state: &State, over: &Over, before: Option<&Over>) -> Vec<String> {
    let fresh = before.is_none_or(|before| std::mem::discriminant(before) != std::mem::discriminant(over));
    let mut lines = Vec::new();
    if fresh {
        lines.push(text::screen::over(over).to_owned());
    }
    match over {
        Over::Cautions => lines.extend(text::cautions::PARAGRAPHS.map(str::to_owned)),
        Over::Chooser(chooser) => {
            let choices = choices(state, chooser.of);
            if fresh {
                lines.extend(choices.iter().enumerate().map(|(index, name)| format!("{}: {name}", index + 1)));
                lines.push(text::plain::CHOOSE.to_owned());
            }
            if let Some(name) = choices.get(chooser.mark) {
                lines.push(format!("> {name}"));
            }
        }
        Over::DroneDesk(row) => {
            if fresh {
                lines.push(text::plain::DESK.to_owned());
            }
            lines.push(format!("> {}", desk_row(state, *row)));
        }
        Over::Keys(finder) | Over::Commands(finder) if fresh => {
            for entry in table::entries(finder.about) {
                let keys: Vec<String> = table::keys_for(finder.about, entry.command).iter().map(ToString::to_string).collect();
                lines.push(format!("{} ({}): {}", entry.word, keys.join(" "), entry.meaning));
            }
        }
        Over::Keys(_) | Over::Commands(_) => {}
        Over::Faults(_) => lines.push(state.troubles()),
        Over::Learn(learn) => match learn.choosing {
            None if fresh => {
                lines.push(text::pedals::LINES.to_owned());
                lines.push(text::pedals::ports(&state.pedals.ports));
                let own = state.pedals.bindings.all();
                lines.extend(own.map(|(signal, deed)| format!("{} {}", text::pedals::OWN, text::pedals::heard(signal, deed, 1))));
            }
            None => {}
            Some(mark) => {
                lines.push(super::learn::heading(state, *learn));
                lines.extend(crate::app::update::lessons().nth(mark).map(|deed| format!("> {}", super::learn::described(deed).0)));
            }
        },
        Over::OpenEar(open) => match &open.sounding {
            Some(sounding) => {
                let (written, concert) = (sounding.written.to_string(), sounding.concert.to_string());
                lines.push(text::open_ear::sounds(&written, &concert, sounding.cents, sounding.partial));
                lines.extend(super::open_ear::beats(state, sounding));
            }
            None => lines.extend(state.class().section(open.section).map(|who| who.name.clone())),
        },
        Over::Ear(_) => {
            if let Some(roll) = state.ear.roll() {
                lines.push(text::ear::title(&roll.name));
                lines.extend(roll.seats.iter().enumerate().map(|(seat, noted)| {
                    format!("{}: {}", text::ear::seat(seat + 1), noted.map_or(text::ear::NOT_NOTED, text::ear::word))
                }));
                let counts: Vec<String> =
                    Verdict::ALL.iter().map(|verdict| format!("{} {}", text::ear::word(*verdict), roll.count(*verdict))).collect();
                lines.push(counts.join(", "));
            }
        }
    }
    lines
}

/// The names in a list.
fn choices(state: &State, of: ChooserOf) -> Vec<String> {
    match of {
        ChooserOf::Rooms => state.shelf.rooms.iter().map(|title| title.name.clone()).collect(),
        ChooserOf::Lessons => state.shelf.lessons.iter().map(|title| title.name.clone()).collect(),
        ChooserOf::Climbs => super::over::climbs(state).into_iter().map(|(name, _)| name).collect(),
        ChooserOf::Items => {
            let items = state.lesson.as_ref().map(super::lesson::items).unwrap_or_default();
            items.into_iter().map(|(name, minutes)| format!("{name}, {minutes}")).collect()
        }
        ChooserOf::Drills => state.shelf.drills.iter().map(|title| title.name.clone()).collect(),
        ChooserOf::Landmarks | ChooserOf::Roll => state.class().sections.iter().map(|section| section.name.clone()).collect(),
    }
}

fn desk_row(state: &State, row: DeskRow) -> String {
    let desk = &state.desk;
    let switch = |on: bool| if on { text::plain::ON } else { text::plain::OFF }.to_owned();
    let value = match row {
        DeskRow::Root => desk.root.to_string(),
        DeskRow::WithRoot => switch(desk.with_root),
        DeskRow::Fifth => switch(desk.with_fifth),
        DeskRow::Octave => switch(desk.with_octave),
        DeskRow::LowerOctave => switch(desk.with_lower_octave),
        DeskRow::Free => format!("{} {}", desk.free, switch(desk.with_free)),
        DeskRow::Registers => switch(desk.for_room),
        DeskRow::Tuning => text::desk::tuning(desk.temperament).to_owned(),
        DeskRow::Sound => String::new(),
    };
    format!("{} {value}", text::desk::row(row, state.pulse.drone)).trim_end().to_owned()
}

/// The answer to a word that means nothing here, with the nearest one that does.
#[must_use]
pub fn unknown(place: Place, word: &str) -> String {
    let words = || table::entries(place).map(|entry| entry.word);
    let nearest = book::suggest(word, words());
    text::plain::unknown(word, nearest.as_deref(), &words().collect::<Vec<_>>().join(", "))
}
