//! Lays bars and sounds one after another.

use std::ops::Range;
use units::{Beats, Tempo};

use super::MAX_BARS;
use super::parts::Parts;
use super::problems::{CompileError, Place, Problem};
use crate::click::Ticked;
use crate::plan::{Bar, Follow, MAX_SOUNDS_PER_BAR, Notice, Plan, PlanKind, PlannedSound, Sound, Station, TurnKind};
use crate::{Adaptive, Drone, Meter, SectionSet};

/// A station to be.
pub(super) struct StationHead {
    pub(super) label: String,
    pub(super) sections: SectionSet,
    pub(super) seat: Option<u16>,
}

/// A bar of a meter, or the part of it that is played.
#[derive(Clone, Copy)]
pub(super) struct Measure {
    pub(super) meter: Meter,
    /// Where in the meter it begins.
    pub(super) opens_at: Beats,
    pub(super) length: Beats,
}

impl Measure {
    pub(super) const fn whole(meter: Meter) -> Self {
        Self { meter, opens_at: Beats::ZERO, length: meter.bar() }
    }
}

pub(super) struct Builder {
    kind: PlanKind,
    title: String,
    tempo: Tempo,
    meter: Meter,
    ticked: Ticked,
    bars: Vec<Bar>,
    sounds: Vec<Vec<PlannedSound>>,
    stations: Vec<Station>,
    talks: Vec<String>,
    page: Vec<String>,
    drone: Option<Drone>,
    adaptive: Option<Adaptive>,
    say_verdicts: bool,
    notices: Vec<Notice>,
}

impl Builder {
    pub(super) fn new(kind: PlanKind, title: String, tempo: Tempo, meter: Meter, click: bool) -> Self {
        Self {
            kind,
            title,
            tempo,
            meter,
            ticked: if click { Ticked::Every } else { Ticked::Silent },
            bars: Vec::new(),
            sounds: Vec::new(),
            stations: Vec::new(),
            talks: Vec::new(),
            page: Vec::new(),
            drone: None,
            adaptive: None,
            say_verdicts: false,
            notices: Vec::new(),
        }
    }

    pub(super) fn meter(&self) -> Meter {
        self.meter
    }

    pub(super) fn is_empty(&self) -> bool {
        self.bars.is_empty()
    }

    pub(super) fn next_bar(&self) -> u32 {
        self.bars.len() as u32
    }

    pub(super) fn last_bar(&self) -> Option<usize> {
        self.bars.len().checked_sub(1)
    }

    /// Opens a station; the bars that come belong to it.
    pub(super) fn station(&mut self, head: StationHead) {
        let StationHead { label, sections, seat } = head;
        self.stations.push(Station { label, sections, seat, first_bar: self.next_bar(), rounds: Vec::new(), landmarks: Vec::new() });
    }

    /// Opens a round of the present station.
    pub(super) fn round(&mut self) {
        let top = self.next_bar();
        if let Some(station) = self.stations.last_mut() {
            station.rounds.push(top);
        }
    }

    /// The bars from `landmark` on, laid since the present round was opened, are its landmark: the round itself begins here.
    pub(super) fn landmark_from(&mut self, landmark: u32) {
        let top = self.next_bar();
        if let Some(station) = self.stations.last_mut() {
            if let Some(round) = station.rounds.last_mut() {
                *round = top;
            }
            station.landmarks.push(landmark);
        }
    }

    /// How the plan goes by what is heard.
    pub(super) fn adapt(&mut self, adaptive: Option<Adaptive>) {
        self.adaptive = adaptive;
    }

    pub(super) fn say_verdicts(&mut self, say: bool) {
        self.say_verdicts = say;
    }

    /// How the bars that come are ticked.
    pub(super) fn tick(&mut self, ticked: Ticked) {
        self.ticked = ticked;
    }

    /// The drone the plan holds.
    pub(super) fn hold(&mut self, drone: Drone) {
        self.drone = Some(drone);
    }

    /// Something the teacher should know of the plan.
    pub(super) fn notice(&mut self, text: String) {
        self.notices.push(Notice { section: None, text });
    }

    /// Adds a whole bar; the sounds that come start in it.
    pub(super) fn bar(&mut self, turn: TurnKind, sections: SectionSet) {
        self.measure(turn, sections, Measure::whole(self.meter));
    }

    /// The last bar, to say more of it.
    pub(super) fn last(&mut self) -> Option<&mut Bar> {
        self.bars.last_mut()
    }

    /// The last bar stands for the bar `number` of the band's page.
    pub(super) fn on_page(&mut self, number: &str) {
        let known = self.page.iter().rposition(|known| known == number);
        let index = known.unwrap_or_else(|| {
            self.page.push(number.to_owned());
            self.page.len() - 1
        });
        if let Some(bar) = self.bars.last_mut() {
            bar.page = u16::try_from(index).ok();
        }
    }

    /// Adds a bar with a meter of its own, or a part of one.
    pub(super) fn measure(&mut self, turn: TurnKind, sections: SectionSet, Measure { meter, opens_at, length }: Measure) {
        let station = self.stations.len().saturating_sub(1) as u16;
        let round = self.stations.last().map_or(0, |station| station.rounds.len().saturating_sub(1) as u16);
        let opens_turn = self.bars.last().is_none_or(|last| last.turn != turn || last.station != station || last.round != round);
        self.bars.push(Bar {
            turn,
            opens_turn,
            sections,
            station,
            round,
            meter,
            opens_at,
            length,
            tempo: None,
            sounds: 0..0,
            follow: Follow::Next,
            tied_over: false,
            talk: None,
            page: None,
            after_stage: false,
        });
        self.sounds.push(Vec::new());
        if matches!(turn, TurnKind::Talk | TurnKind::Ask) {
            return;
        }
        let ticked = self.ticked;
        for beat in (0..i64::from(meter.beats())).filter(|beat| ticked.ticks(*beat)) {
            self.sound_in_measure(Beats::whole(beat), Sound::Click { downbeat: beat == 0 });
        }
    }

    /// Adds a bar that waits for the director, with what it is about.
    pub(super) fn wait(&mut self, turn: TurnKind, sections: SectionSet, note: String) {
        self.bar(turn, sections);
        if let Some(bar) = self.bars.last_mut() {
            bar.talk = Some(self.talks.len() as u16);
            self.talks.push(note);
        }
    }

    /// A sound in the last bar.
    pub(super) fn sound(&mut self, beat: Beats, sound: Sound) {
        if let Some(last) = self.sounds.last_mut() {
            last.push(PlannedSound { beat, sound });
        }
    }

    /// A sound at `beat` of the last bar's meter, if the bar holds that beat.
    pub(super) fn sound_in_measure(&mut self, beat: Beats, sound: Sound) {
        if let Some(bar) = self.bars.last()
            && bar.opens_at <= beat
            && beat < bar.opens_at + bar.length
        {
            self.sound(beat - bar.opens_at, sound);
        }
    }

    /// A sound on the first beat of the last `bars` bars.
    pub(super) fn sound_bars_back(&mut self, bars: usize, sound: Sound) {
        if let Some(slot) = self.sounds.len().checked_sub(bars).and_then(|top| self.sounds.get_mut(top)) {
            slot.push(PlannedSound { beat: Beats::ZERO, sound });
        }
    }

    /// An inhale over the last `length` of the last `bars` bars, which last `beats` in all.
    pub(super) fn inhale(&mut self, bars: usize, beats: Beats, length: Beats) {
        let Some(top) = self.bars.len().checked_sub(bars) else { return };
        let start = beats - length;
        let mut line = Beats::ZERO;
        for (bar, sounds) in self.bars[top..].iter_mut().zip(&mut self.sounds[top..]) {
            let end = line + bar.length;
            if line <= start && start < end {
                sounds.push(PlannedSound { beat: start - line, sound: Sound::Breath { length } });
            }
            // a tempo that changed under the breath would move the entry away from its end
            bar.tied_over |= start < line;
            line = end;
        }
    }

    /// The bar at `index` takes up `tempo`.
    pub(super) fn take_tempo(&mut self, index: u32, tempo: Tempo) {
        if let Some(bar) = self.bars.get_mut(index as usize) {
            bar.tempo = Some(tempo);
        }
    }

    /// A sound `beat` beats after the top of the last `bars` bars.
    pub(super) fn sound_at_turn(&mut self, bars: usize, beat: Beats, sound: Sound) {
        let Some(top) = self.sounds.len().checked_sub(bars) else { return };
        let bar = beat.floor().max(0) / i64::from(self.meter.beats());
        if let Some(slot) = self.sounds.get_mut(top + bar as usize) {
            slot.push(PlannedSound { beat: beat - self.meter.bar() * bar, sound });
        }
    }

    /// Marks the bar lines a note of the last `bars` bars sounds across.
    pub(super) fn tie_over(&mut self, bars: usize, start: Beats, length: Beats, bar: Beats) {
        let Some(top) = self.bars.len().checked_sub(bars) else { return };
        for (index, slot) in self.bars[top..].iter_mut().enumerate() {
            let line = bar * index as i64;
            slot.tied_over |= start < line && line < start + length;
        }
    }

    /// Changes what follows the bar at `index`.
    pub(super) fn follow(&mut self, index: Option<usize>, follow: Follow) {
        if let Some(bar) = index.and_then(|index| self.bars.get_mut(index)) {
            bar.follow = follow;
        }
    }

    pub(super) fn finish(mut self, parts: Parts) -> Result<Plan, CompileError> {
        if self.bars.len() > MAX_BARS {
            return Err(CompileError::one(Place::Whole, Problem::TooLong { bars: self.bars.len(), most: MAX_BARS }));
        }
        let last = self.last_bar();
        self.follow(last, Follow::End);
        let mut sounds: Vec<PlannedSound> = Vec::new();
        for (index, (bar, own)) in self.bars.iter_mut().zip(&mut self.sounds).enumerate() {
            if own.len() > MAX_SOUNDS_PER_BAR {
                return Err(CompileError::one(Place::Whole, Problem::TooManySounds { bar: index + 1, most: MAX_SOUNDS_PER_BAR }));
            }
            own.sort_by_key(|sound| sound.beat);
            let start = sounds.len() as u32;
            sounds.append(own);
            bar.sounds = Range { start, end: sounds.len() as u32 };
        }
        let (parts, mut notices) = parts.into_parts();
        notices.append(&mut self.notices);
        Ok(Plan {
            title: self.title,
            kind: self.kind,
            tempo: self.tempo,
            meter: self.meter,
            parts,
            bars: self.bars,
            sounds,
            stations: self.stations,
            notices,
            talks: self.talks,
            page: self.page,
            drone: self.drone,
            adaptive: self.adaptive,
            say_verdicts: self.say_verdicts,
        })
    }
}
