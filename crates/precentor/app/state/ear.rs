//! What the director's ear noted in a roll, seat by seat. Seats, not names; kept while the console runs.

use pitch::Written;
use sequencer::SectionIndex;

use crate::hearing::Judged;
use crate::inputs::Verdict;

/// The microphone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Hearing {
    /// Not in use.
    Off,
    /// Being opened.
    Opening,
    /// It listens in rolls; its name.
    On(String),
    /// It cannot be used, and why.
    Failed(String),
}

/// What the microphone heard of a seat's echo.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeatHeard {
    /// Which seat, from 1.
    pub seat: u16,
    /// The note asked for, as it is read.
    pub target: Written,
    /// What came.
    pub judged: Judged,
}

/// All rolls of this run that were heard, the newest last.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ear {
    /// Each roll.
    pub rolls: Vec<Roll>,
    /// The seat that echoes or echoed last.
    pub seat: Option<u16>,
}

/// One roll as heard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Roll {
    /// Through which section.
    pub section: SectionIndex,
    /// Its name.
    pub name: String,
    /// One verdict per seat, from seat 1.
    pub seats: Vec<Option<Verdict>>,
}

impl Ear {
    /// A new roll begins.
    pub fn begin(&mut self, section: SectionIndex, name: &str, seats: u16) {
        // a roll in which nothing was noted leaves nothing behind
        self.rolls.retain(|roll| roll.seats.iter().any(Option::is_some));
        self.rolls.push(Roll { section, name: name.to_owned(), seats: vec![None; usize::from(seats)] });
        self.seat = None;
    }

    /// Notes `verdict` for the seat that echoes or echoed last, over what was noted before; the seat, if there is one.
    pub fn note(&mut self, verdict: Verdict) -> Option<u16> {
        let seat = self.seat?;
        let slot = self.rolls.last_mut()?.seats.get_mut(usize::from(seat).checked_sub(1)?)?;
        *slot = Some(verdict);
        Some(seat)
    }

    /// Takes what the microphone heard, unless the director has noted something for that seat: the own ear counts.
    pub fn hear(&mut self, heard: &SeatHeard) {
        use records::Kind;
        let verdict = match heard.judged.verdict.kind() {
            Kind::OnIt | Kind::Near => Verdict::OnIt,
            Kind::Low => Verdict::Low,
            Kind::High => Verdict::High,
            Kind::Nothing => Verdict::Silent,
            // neither high nor low: left to the director
            Kind::Astray => return,
        };
        let slot = self.rolls.last_mut().and_then(|roll| roll.seats.get_mut(usize::from(heard.seat).checked_sub(1)?));
        if let Some(slot @ None) = slot {
            *slot = Some(verdict);
        }
    }

    /// The newest roll.
    #[must_use]
    pub fn roll(&self) -> Option<&Roll> {
        self.rolls.last()
    }
}

impl Roll {
    /// How many seats got `verdict`.
    #[must_use]
    pub fn count(&self, verdict: Verdict) -> usize {
        self.seats.iter().filter(|noted| **noted == Some(verdict)).count()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_verdict_can_be_changed_and_needs_a_seat() {
        let mut ear = Ear::default();
        assert_eq!(ear.note(Verdict::Low), None);
        ear.begin(SectionIndex(8), "Horns", 3);
        assert_eq!(ear.note(Verdict::Low), None, "no seat has echoed yet");
        ear.seat = Some(2);
        assert_eq!(ear.note(Verdict::Low), Some(2));
        assert_eq!(ear.note(Verdict::OnIt), Some(2));
        assert_eq!(ear.roll().unwrap().seats, [None, Some(Verdict::OnIt), None]);
        ear.seat = Some(4);
        assert_eq!(ear.note(Verdict::OnIt), None, "the section has three seats");
    }

    #[test]
    fn an_empty_roll_leaves_nothing_behind() {
        let mut ear = Ear::default();
        ear.begin(SectionIndex(0), "Flutes", 4);
        ear.begin(SectionIndex(8), "Horns", 3);
        assert_eq!(ear.rolls.len(), 1);
        assert_eq!(ear.roll().unwrap().name, "Horns");
    }
}
