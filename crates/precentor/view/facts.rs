//! What the state says to whoever looks at it, before it has a place on the screen. Stage, room view and line mode tell the same facts.

use pitch::{Clef, Written, fit};
use sequencer::plan::{Part, PlanKind, Sound, TurnKind};
use sequencer::{Motion, Plan, SectionIndex, SectionSet, compile};

use crate::app::State;
use crate::text::stage::{self, Going};

/// What the screen says.
#[derive(Clone, Debug, PartialEq)]
pub struct Facts {
    /// What is going on, in a word and a shape.
    pub going: Going,
    /// Which part of the class the word is about.
    pub mood: Mood,
    /// Who and what, in a sentence.
    pub sentence: String,
    /// Whose turn it is.
    pub who: String,
    /// The beat that sounds, and the beats of a bar; nothing while the pulse rests.
    pub beat: Option<(u8, u8)>,
    /// Which bar of how many of this turn.
    pub bar: Option<(usize, usize)>,
    /// Its number on the band's page.
    pub page: Option<String>,
    /// What comes next, from the fullest way of saying it to the shortest.
    pub next: Vec<String>,
    /// Where in the plan: group, seat, round.
    pub place: String,
    /// Who is in it.
    pub sections: SectionSet,
}

/// Who sounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mood {
    /// The engine.
    Sounds,
    /// The class.
    Plays,
    /// Nobody.
    Rests,
}

/// What one section reads.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Which.
    pub section: SectionIndex,
    /// Its name.
    pub name: String,
    /// Its instrument, without the clef.
    pub instrument: &'static str,
    /// Its clef.
    pub clef: Clef,
    /// What it reads.
    pub reads: Reads,
    /// Whether it is its turn.
    pub on: bool,
}

/// What is on a section's page.
#[derive(Clone, Debug, PartialEq)]
pub enum Reads {
    /// Its notes and rests, and which of them is under way.
    Notes(Vec<Option<Written>>, Option<usize>),
    /// Nothing in this plan.
    Nothing,
    /// A line that does not fit, and what would.
    SitsOut(String),
}

impl Facts {
    /// What comes next in the fullest way that fits `columns`, the shortest if none does.
    #[must_use]
    pub fn next_in(&self, columns: u16) -> &str {
        let fitting = self.next.iter().find(|way| super::paint::width(way) <= columns);
        fitting.or(self.next.last()).map_or("", String::as_str)
    }

    /// What `state` says.
    #[must_use]
    pub fn of(state: &State) -> Self {
        let Some((plan, motion)) = state.plan().zip(state.motion()) else { return Self::without_a_plan(state) };
        let Some(bar) = state.bar() else { return Self::without_a_plan(state) };
        let who = state.station().map(|station| capital(&station.label)).unwrap_or_default();
        let turn = state.turn();
        let going = turn.map_or_else(|| stage::standing(motion), stage::turn);
        let mood = match turn {
            Some(TurnKind::Model | TurnKind::Call | TurnKind::Landmark) => Mood::Sounds,
            Some(TurnKind::Echo | TurnKind::Breath | TurnKind::Pass(_)) => Mood::Plays,
            Some(TurnKind::Hold) => Mood::Sounds,
            _ => Mood::Rests,
        };
        // a drone is held without a pulse
        let moving = state.pulse.is_moving() && plan.kind != PlanKind::Hold;
        let droning = state.drones_alone();
        let (going, mood) = if droning { (stage::DRONE, Mood::Sounds) } else { (going, mood) };
        let sentence = match turn {
            None if droning => format!("{} {}", stage::drone_sounds(&state.desk), stage::stands(motion, &who)),
            Some(TurnKind::Talk | TurnKind::Ask) => {
                bar.talk.and_then(|talk| plan.talks.get(usize::from(talk))).cloned().unwrap_or_default()
            }
            Some(turn) => stage::sentence(turn, &who),
            None => stage::stands(motion, &who),
        };
        Self {
            going,
            mood,
            sentence,
            beat: moving.then(|| (beat_of(state.pulse.beat, bar), bar.meter.beats())),
            bar: moving.then(|| bar_of_turn(plan, state.pulse.bar)),
            page: plan.page_number(bar).map(str::to_owned),
            next: next(state, plan, motion),
            place: place(plan, state.pulse.bar),
            sections: bar.sections,
            who,
        }
    }

    fn without_a_plan(state: &State) -> Self {
        let drone = state.pulse.drone;
        let going = if drone { stage::DRONE } else { stage::QUIET };
        let sentence = if drone { stage::drone_sounds(&state.desk) } else { stage::NOTHING_LED.to_owned() };
        Self {
            going,
            mood: if drone { Mood::Sounds } else { Mood::Rests },
            sentence,
            who: stage::EVERYONE.to_owned(),
            beat: None,
            bar: None,
            page: None,
            next: vec![stage::CHOOSE_SOMETHING.to_owned()],
            place: String::new(),
            sections: state.room.everyone(),
        }
    }
}

/// The beat of its meter that sounds in a bar: a pick-up begins past the first.
fn beat_of(beat: u8, bar: &sequencer::plan::Bar) -> u8 {
    if beat == 0 { 0 } else { beat.saturating_add(bar.opens_at.floor().clamp(0, 255) as u8) }
}

/// Which bar of how many of the turn the bar at `index` stands in.
fn bar_of_turn(plan: &Plan, index: u32) -> (usize, usize) {
    let turn = plan.turn_around(index);
    (index.saturating_sub(turn.start) as usize + 1, turn.len())
}

/// What comes next, with what the director asked for, from the fullest way of saying it to the shortest.
fn next(state: &State, plan: &Plan, motion: Motion) -> Vec<String> {
    let here = state.pulse.bar;
    let turn_word = |index: u32| plan.bar(index).map(|bar| stage::coming(bar.turn));
    let one = match motion {
        Motion::Running => {
            if let Some(asked) = state.asked {
                return vec![stage::asked(asked, plan.kind)];
            }
            let end = plan.turn_around(here).end;
            let left = end.saturating_sub(here) as usize;
            let Some(follows) = plan.following(end.saturating_sub(1)) else {
                let item = state.queued_item().map(|item| crate::text::lesson::comes(&item.name));
                let what = item.as_deref().unwrap_or(stage::THE_END);
                // a drone's bars are seconds, and nobody counts them
                return vec![if plan.kind == PlanKind::Hold { stage::in_seconds(what, left) } else { stage::in_bars(what, left) }];
            };
            let whose = match (plan.bar(follows), plan.bar(here)) {
                (Some(new), Some(old)) if new.station != old.station => plan.station_of(new).map(|station| station.label.clone()),
                _ => None,
            };
            let after = plan.turn_around(follows).end;
            let then = plan.following(after.saturating_sub(1)).and_then(turn_word);
            // a hold is one turn without end
            if plan.kind == PlanKind::Hold && follows <= here {
                return vec![stage::UNTIL_GO.to_owned()];
            }
            let word = turn_word(follows).unwrap_or_default();
            let ways = [(whose.as_deref(), then), (whose.as_deref(), None), (None, None)];
            return ways.into_iter().map(|(whose, then)| stage::comes(word, whose, left, then)).collect();
        }
        Motion::Closing => stage::CLOSING.to_owned(),
        Motion::Ready | Motion::Held => stage::go_starts(turn_word(here).unwrap_or_default()),
        Motion::Waiting => match plan.following(here).and_then(turn_word) {
            Some(word) => stage::go_starts(word),
            None => match state.next_item().or(state.queued_item()) {
                Some(item) => crate::text::lesson::go_starts(&item.name),
                None => stage::THE_END.to_owned(),
            },
        },
        Motion::Done if state.aside.is_some() => stage::GO_GOES_BACK.to_owned(),
        Motion::Done if state.next_item().is_some() => {
            state.next_item().map(|item| crate::text::lesson::go_starts(&item.name)).unwrap_or_default()
        }
        Motion::Done => stage::GO_STARTS_AFRESH.to_owned(),
    };
    vec![one]
}

fn place(plan: &Plan, index: u32) -> String {
    let Some(bar) = plan.bar(index) else { return String::new() };
    let mut place = stage::station(plan.kind, usize::from(bar.station) + 1, plan.stations.len());
    let rounds = plan.station_of(bar).map_or(1, |station| station.rounds.len());
    if matches!(plan.kind, PlanKind::Climb | PlanKind::Recheck) {
        if let Some(pass) = plan.pass_at(index) {
            place.push_str(", ");
            place.push_str(&stage::pass(pass));
        }
    } else if rounds > 1 && plan.kind != PlanKind::Hold {
        place.push_str(", ");
        place.push_str(&stage::round(usize::from(bar.round) + 1, rounds));
    }
    place
}

/// What every section of the class reads: of the plan, or of the drone's root where a drone is all there is.
#[must_use]
pub fn readings(state: &State) -> Vec<Reading> {
    let plan = state.plan().filter(|plan| plan.kind != PlanKind::Hold && !state.drones_alone());
    let in_turn = plan.and_then(|_| state.bar()).map(|bar| bar.sections);
    let under_way = note_under_way(state);
    let class = state.class();
    class
        .indexed()
        .map(|(section, who)| {
            let reads = match plan {
                Some(_) if landmark(state, section).is_some() => Reads::Notes(vec![landmark(state, section)], Some(0)),
                Some(plan) => match plan.part(section) {
                    Part::Notes(notes) => {
                        let written: Vec<_> = notes.iter().map(|note| note.pitch.map(|pitch| pitch.written)).collect();
                        let on = in_turn.is_some_and(|sections| sections.contains(section));
                        Reads::Notes(written, if on { under_way.and_then(|now| now.of(notes)) } else { None })
                    }
                    Part::Nothing => Reads::Nothing,
                    Part::DoesNotFit { would_fit } => Reads::SitsOut(would_fit.clone()),
                },
                // a drum has nothing to tune
                None if !who.instrument.is_pitched() => Reads::Nothing,
                None => {
                    let key = compile::key_for([state.desk.root]);
                    let fitted = fit(who.instrument, &who.comfortable, state.desk.root, key);
                    Reads::Notes(vec![Some(fitted.written)], None)
                }
            };
            Reading {
                section,
                name: who.name.clone(),
                instrument: instrument(who.instrument.label()),
                clef: who.instrument.clef(),
                reads,
                on: in_turn.is_some_and(|sections| sections.contains(section)),
            }
        })
        .collect()
}

/// The landmark of `section` that sounds just now.
fn landmark(state: &State, section: SectionIndex) -> Option<Written> {
    let bar = state.bar().filter(|bar| bar.turn == TurnKind::Landmark)?;
    state.plan()?.sounds_of(bar).iter().find_map(|planned| match planned.sound {
        Sound::Tone { section: whose, pitch, .. } => (whose == section).then_some(pitch.written),
        _ => None,
    })
}

/// A place in a line.
#[derive(Clone, Copy)]
enum Now {
    /// So many beats after its top.
    Beats(i64),
    /// The note of this number.
    Note(usize),
}

impl Now {
    fn of(self, notes: &[sequencer::plan::PartNote]) -> Option<usize> {
        match self {
            Self::Note(index) => (index < notes.len()).then_some(index),
            Self::Beats(beats) => {
                let now = units::Beats::whole(beats);
                notes.iter().position(|note| note.start <= now && now < note.start + note.length)
            }
        }
    }
}

/// Where in the line the class is, while it sounds or is answered.
fn note_under_way(state: &State) -> Option<Now> {
    let plan = state.plan()?;
    if plan.kind == PlanKind::Landmarks {
        return state.pulse.is_moving().then(|| state.bar().map(|bar| Now::Note(usize::from(bar.station)))).flatten();
    }
    if !matches!(state.turn()?, TurnKind::Model | TurnKind::Echo) || state.pulse.beat == 0 {
        return None;
    }
    let (bar, _) = bar_of_turn(plan, state.pulse.bar);
    let beats = (bar as i64 - 1) * i64::from(plan.meter.beats()) + i64::from(state.pulse.beat) - 1;
    Some(Now::Beats(beats))
}

impl Reading {
    /// What a note on its page is called: by its letter, or as a stroke.
    #[must_use]
    pub fn called(&self, note: Written) -> String {
        if self.clef == Clef::Percussion { stage::STROKE.to_owned() } else { note.to_string() }
    }

    /// The notes in words, rests as dashes, the one under way in brackets; cut to `columns` around it.
    #[must_use]
    pub fn words(&self, columns: u16) -> String {
        let notes = match &self.reads {
            Reads::Nothing => return stage::NOTHING.to_owned(),
            Reads::SitsOut(_) => return stage::SITS_OUT.to_owned(),
            Reads::Notes(notes, now) => (notes, now),
        };
        let (notes, now) = notes;
        let words: Vec<String> = notes
            .iter()
            .enumerate()
            .map(|(index, note)| {
                let name = note.map_or_else(|| "-".to_owned(), |note| self.called(note));
                if *now == Some(index) && notes.len() > 1 { format!("[{name}]") } else { name }
            })
            .collect();
        // from the first note that lets the one under way fit
        let target = now.unwrap_or(0);
        let line = |from: usize| {
            let tail = words.get(from..).unwrap_or(&[]).join(" ");
            if from > 0 { format!("~{tail}") } else { tail }
        };
        let end_of = |from: usize| {
            let upto = words.get(from..=target).unwrap_or(&[]).join(" ").len() + usize::from(from > 0);
            upto + usize::from(target + 1 < words.len())
        };
        let from = (0..=target).find(|from| end_of(*from) <= usize::from(columns)).unwrap_or(target);
        super::paint::cut(&line(from), columns)
    }
}

impl Reads {
    /// The notes alone, without rests.
    #[must_use]
    pub fn notes(&self) -> Vec<Written> {
        match self {
            Self::Notes(notes, _) => notes.iter().copied().flatten().collect(),
            Self::Nothing | Self::SitsOut(_) => Vec::new(),
        }
    }
}

/// An instrument's name without its clef and without what explains it.
#[must_use]
pub fn instrument(label: &'static str) -> &'static str {
    label.split([',', '(']).next().unwrap_or(label).trim_end()
}

fn capital(text: &str) -> String {
    let mut signs = text.chars();
    signs.next().map(|first| first.to_uppercase().chain(signs).collect()).unwrap_or_default()
}
