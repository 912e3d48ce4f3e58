//! Lays bars and sounds one after another.

use std::ops::Range;
use units::{Beats, Tempo};

use super::MAX_BARS;
use super::parts::Parts;
use super::problems::{CompileError, Place, Problem};
use crate::plan::{Bar, Follow, MAX_SOUNDS_PER_BAR, Plan, PlanKind, PlannedSound, Sound, Station, TurnKind};
use crate::{Meter, SectionSet};

/// A station to be.
pub(super) struct StationHead {
    pub(super) label: String,
    pub(super) sections: SectionSet,
    pub(super) seat: Option<u16>,
}

pub(super) struct Builder {
    kind: PlanKind,
    title: String,
    tempo: Tempo,
    meter: Meter,
    click: bool,
    bars: Vec<Bar>,
    sounds: Vec<Vec<PlannedSound>>,
    stations: Vec<Station>,
    talks: Vec<String>,
}

impl Builder {
    pub(super) fn new(kind: PlanKind, title: String, tempo: Tempo, meter: Meter, click: bool) -> Self {
        Self { kind, title, tempo, meter, click, bars: Vec::new(), sounds: Vec::new(), stations: Vec::new(), talks: Vec::new() }
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
        self.stations.push(Station { label, sections, seat, first_bar: self.next_bar(), rounds: Vec::new() });
    }

    /// Opens a round of the present station.
    pub(super) fn round(&mut self) {
        let top = self.next_bar();
        if let Some(station) = self.stations.last_mut() {
            station.rounds.push(top);
        }
    }

    /// Adds a bar; the sounds that come start in it.
    pub(super) fn bar(&mut self, turn: TurnKind, sections: SectionSet) {
        let station = self.stations.len().saturating_sub(1) as u16;
        let round = self.stations.last().map_or(0, |station| station.rounds.len().saturating_sub(1) as u16);
        let opens_turn = self.bars.last().is_none_or(|last| last.turn != turn || last.station != station || last.round != round);
        self.bars.push(Bar {
            turn,
            opens_turn,
            sections,
            station,
            round,
            meter: self.meter,
            opens_at: Beats::ZERO,
            length: self.meter.bar(),
            tempo: None,
            sounds: 0..0,
            follow: Follow::Next,
            tied_over: false,
            talk: None,
        });
        self.sounds.push(Vec::new());
        if self.click && turn != TurnKind::Talk {
            for beat in 0..self.meter.beats() {
                self.sound(Beats::whole(i64::from(beat)), Sound::Click { downbeat: beat == 0 });
            }
        }
    }

    /// Adds a bar that waits for the director.
    pub(super) fn talk(&mut self, sections: SectionSet, note: String) {
        self.bar(TurnKind::Talk, sections);
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
            return Err(CompileError::one(Place::Drill, Problem::TooLong { bars: self.bars.len(), most: MAX_BARS }));
        }
        let last = self.last_bar();
        self.follow(last, Follow::End);
        let mut sounds: Vec<PlannedSound> = Vec::new();
        for (index, (bar, own)) in self.bars.iter_mut().zip(&mut self.sounds).enumerate() {
            if own.len() > MAX_SOUNDS_PER_BAR {
                return Err(CompileError::one(Place::Drill, Problem::TooManySounds { bar: index + 1, most: MAX_SOUNDS_PER_BAR }));
            }
            own.sort_by_key(|sound| sound.beat);
            let start = sounds.len() as u32;
            sounds.append(own);
            bar.sounds = Range { start, end: sounds.len() as u32 };
        }
        let (parts, notices) = parts.into_parts();
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
        })
    }
}
