//! What the director's ear noted in the rolls of this run, seat by seat. Seats, not names.

use pitch::Written;
use records::Echo;
use sequencer::SectionIndex;

use super::heard::{SeatHeard, SectionHeard};
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
    /// It was lost and is looked for.
    Lost(String),
}

impl Hearing {
    /// Whether nobody has the microphone, or can have it: to listen it must be opened.
    #[must_use]
    pub const fn is_closed(&self) -> bool {
        matches!(self, Self::Off | Self::Failed(_))
    }
}

/// The most notes of one echo that are kept one by one.
const NOTES: u64 = 1024;

/// All rolls of this run that were heard, the newest last.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ear {
    /// Each roll.
    pub rolls: Vec<Roll>,
    /// The seat that echoes or echoed last.
    pub seat: Option<u16>,
    /// How many echoes there have been in this run.
    echoes: u64,
    /// How many notes of the last the microphone has told of.
    notes: u64,
    /// Whether the director has noted it.
    noted: bool,
    /// What is to be said of the last echo, as far as it was heard: of its first note that was not on it, else of all.
    said: Option<records::Verdict>,
    /// The same once the echo was heard to its end, until it is said.
    remark: Option<records::Verdict>,
    /// The station and the round that echo now.
    echoing: Option<(u16, u16)>,
    /// What the microphone told last, until the next echo begins.
    pub told: Option<Told>,
    /// What the verdict told last is kept as, if it is kept: its sound goes with it.
    pub kept: Option<Echo>,
    /// The shares on the note asked for that were heard in the echo that is told of.
    on_target: Vec<f64>,
}

/// What the microphone told of an echo.
#[derive(Clone, Debug, PartialEq)]
pub enum Told {
    /// Of a seat.
    Seat(SeatHeard),
    /// Of a section.
    Section(SectionHeard),
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

impl Told {
    /// The note that was asked for.
    #[must_use]
    pub const fn target(&self) -> Written {
        match self {
            Self::Seat(heard) => heard.target,
            Self::Section(heard) => heard.target,
        }
    }
}

impl Ear {
    /// A new roll begins.
    pub fn begin(&mut self, section: SectionIndex, name: &str, seats: u16) {
        // a roll in which nothing was noted leaves nothing behind
        self.rolls.retain(|roll| roll.seats.iter().any(Option::is_some));
        self.rolls.push(Roll { section, name: name.to_owned(), seats: vec![None; usize::from(seats)] });
        self.seat = None;
        self.echoing = None;
    }

    /// Notices where the roll is: the station and round that echo now, if any do, and their seat.
    pub fn follow(&mut self, echoing: Option<(u16, u16)>, seat: Option<u16>) {
        if echoing.is_some() {
            if echoing != self.echoing {
                self.echoes += 1;
                (self.notes, self.noted) = (0, false);
                self.told = None;
                (self.said, self.remark) = (None, None);
                self.on_target.clear();
            }
            self.seat = seat.or(self.seat);
        }
        self.echoing = echoing;
    }

    /// Notes `verdict` for the seat that echoes or echoed last, over what was noted before; the seat, if there is one.
    pub fn note(&mut self, verdict: Verdict) -> Option<u16> {
        let seat = self.seat?;
        let slot = self.rolls.last_mut()?.seats.get_mut(usize::from(seat).checked_sub(1)?)?;
        *slot = Some(verdict);
        self.noted = true;
        self.remark = None;
        Some(seat)
    }

    /// What the director's verdict on the last echo is kept as: in the place of what the microphone said of its first note.
    #[must_use]
    pub const fn echo(&self) -> Echo {
        Echo(self.echoes * NOTES)
    }

    /// What the microphone's verdict on the next note of the last echo is kept as; nothing if the director has noted that echo.
    pub fn next_note(&mut self) -> Option<Echo> {
        let note = self.notes;
        self.notes += 1;
        (!self.noted && note < NOTES).then_some(Echo(self.echoes * NOTES + note))
    }

    /// Takes what the microphone heard, unless the director has noted something for that seat: the own ear counts.
    pub fn hear(&mut self, heard: &SeatHeard) {
        use records::Kind;
        self.told = Some(Told::Seat(*heard));
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

    /// Remembers what is to be said of the echo whose next note is `heard`: the first of its notes that was not on it decides.
    pub const fn remark_on(&mut self, heard: &SeatHeard) {
        let all_on = matches!(self.said, None | Some(records::Verdict::OnIt));
        self.said = if all_on { Some(heard.judged.verdict) } else { self.said };
        self.remark = if heard.last { self.said } else { None };
    }

    /// What is to be said now of an echo that was heard to its end; once.
    pub const fn take_remark(&mut self) -> Option<records::Verdict> {
        self.remark.take()
    }

    /// Takes what was heard of a section in one note of its echo; with the last of them the mean share on the notes asked for, of those in
    /// which a section was to be heard.
    pub fn hear_section(&mut self, heard: &SectionHeard) -> Option<f64> {
        self.on_target.extend(heard.on_target().map(|note| note.share));
        self.told = Some(Told::Section(heard.clone()));
        let all = &self.on_target;
        (heard.last && !all.is_empty()).then(|| all.iter().sum::<f64>() / all.len() as f64)
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
    fn the_director_s_word_takes_the_place_of_the_microphone_s_and_not_the_other_way() {
        let mut ear = Ear::default();
        ear.begin(SectionIndex(8), "Horns", 3);
        ear.follow(Some((0, 0)), Some(1));
        let first = ear.next_note();
        assert_eq!(first, Some(ear.echo()));
        assert!(ear.next_note().is_some_and(|second| second != ear.echo()));
        ear.note(Verdict::OnIt);
        assert_eq!(ear.next_note(), None);
        ear.follow(Some((1, 0)), Some(2));
        assert!(ear.next_note().is_some_and(|next| next == ear.echo() && Some(next) != first));
    }

    #[test]
    fn every_echo_is_another() {
        let mut ear = Ear::default();
        let mut echo = |echoing, seat| {
            ear.follow(echoing, seat);
            (ear.echoes, ear.seat)
        };
        assert_eq!(echo(None, Some(1)), (0, None), "its call");
        assert_eq!(echo(Some((0, 0)), Some(1)), (1, Some(1)));
        assert_eq!(echo(Some((0, 0)), Some(1)), (1, Some(1)), "its second bar");
        assert_eq!(echo(None, Some(2)), (1, Some(1)), "until seat 2 echoes it is still seat 1's");
        assert_eq!(echo(Some((1, 0)), Some(2)), (2, Some(2)));
        assert_eq!(echo(Some((1, 1)), Some(2)), (3, Some(2)), "its next round, at once");
        assert_eq!(echo(None, Some(2)), (3, Some(2)));
        assert_eq!(echo(Some((1, 1)), Some(2)), (4, Some(2)), "the same round again");
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
