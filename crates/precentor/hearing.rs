//! Echoes heard: which note is asked of whom and when, and what came in its place.

mod whole;

use listen::{Note, Place, Player};
use pitch::Written;
use records::{Verdict, Way};
use sequencer::cursor::Step;
use sequencer::plan::Part;
use sequencer::{Cue, Cursor, Motion, Plan, SectionIndex, TurnKind};
use std::num::NonZeroI8;
use units::{Cents, FrameInstant, FrameSpan, SampleRate};

pub use whole::{ALL_BEGUN, COMES_IN, Solo, WholeSection, series};

/// A note further off than this is flat or sharp: ours, about what a beginner can be asked to hear.
pub const IN_TUNE: Cents = Cents(20.0);
/// An entry further off than this, in milliseconds, is early or late: ours, about what a class hears as not together.
pub const IN_TIME_MS: f64 = 120.0;
/// How long before its beat a note may begin and be taken for it, in seconds.
const BEFORE: f64 = 0.3;
/// How long after its end it may still be told, in seconds.
const AFTER: f64 = 0.25;
/// Frames the plan is stepped by.
const STEP: u64 = 64;

/// A note asked for in an echo.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Which echo turn of the run, from zero.
    pub turn: usize,
    /// Which round of its station, from zero.
    pub round: u16,
    /// Of which section.
    pub section: SectionIndex,
    /// Of which seat, in a roll.
    pub seat: Option<u16>,
    /// The note as the section reads it.
    pub written: Written,
    /// Its beat.
    pub at: FrameInstant,
    /// Where it ends.
    pub end: FrameInstant,
}

/// What came of a note asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// In a word.
    pub verdict: Verdict,
    /// The note that came, as the section reads it.
    pub heard: Option<Written>,
    /// How far it lies above (negative: below) the middle of that note or partial.
    pub cents: Option<Cents>,
    /// Milliseconds from the beat to its entry, negative before it.
    pub entry_ms: Option<f64>,
    /// The share of the sound that was the note, 0 to 1.
    pub confidence: f64,
}

/// Every note that `plan` asks of one section alone, in a run that starts at frame zero, is cued by nobody and goes on from talk at once.
#[must_use]
pub fn asked(plan: &Plan, rate: SampleRate) -> Vec<Asked> {
    let mut cursor = Cursor::new(plan, rate);
    let mut asked = Vec::new();
    let mut turn = 0;
    let mut now = FrameInstant::ZERO;
    cursor.cue(plan, Cue::Go, now);
    while cursor.motion() != Motion::Done {
        if cursor.motion() == Motion::Waiting {
            cursor.cue(plan, Cue::Go, now);
        }
        while let Some(step) = cursor.step(plan, now) {
            let Step::Bar(laid) = step else { continue };
            let Some(bar) = plan.bar(laid.index).filter(|bar| bar.turn == TurnKind::Echo && bar.opens_turn) else { continue };
            turn += 1;
            let mut sections = bar.sections.iter();
            let (Some(section), None) = (sections.next(), sections.next()) else { continue };
            let Part::Notes(notes) = plan.part(section) else { continue };
            let seat = plan.station_of(bar).and_then(|station| station.seat);
            asked.extend(notes.iter().filter_map(|note| {
                let (at, end) = (laid.frame_of(note.start), laid.frame_of(note.start + note.length));
                Some(Asked { turn: turn - 1, round: bar.round, section, seat, written: note.pitch?.written, at, end })
            }));
        }
        now += FrameSpan(STEP);
    }
    asked
}

/// What came of the note that `player` was asked for, where nobody knows how late the microphone is: without its entry.
#[must_use]
pub fn judged_untimed(player: &mut Player) -> Judged {
    match player.answer() {
        listen::Verdict::Nothing => Judged::NOTHING,
        listen::Verdict::Note(note) => judge(&note, None),
    }
}

impl Judged {
    const NOTHING: Self = Self { verdict: Verdict::Nothing, heard: None, cents: None, entry_ms: None, confidence: 0.0 };
}

impl Asked {
    /// From where on sound is to be listened to, and up to where: a note that another follows at once is over when that begins.
    #[must_use]
    pub fn window(&self, rate: SampleRate, follower: Option<&Self>) -> (FrameInstant, FrameInstant) {
        let end = self.end + rate.span(AFTER);
        (self.at.back(rate.span(BEFORE)), follower.map_or(end, |next| end.min(next.at)))
    }

    /// What `player`, which was asked for it and has heard its window, says came of it.
    #[must_use]
    pub fn judged(&self, player: &mut Player, rate: SampleRate) -> Judged {
        match player.answer() {
            listen::Verdict::Nothing => Judged::NOTHING,
            listen::Verdict::Note(note) => judge(&note, Some(note.entry.offset_from(self.at).0 as f64 * 1000.0 / f64::from(rate.hz()))),
        }
    }
}

/// What `note` is beside the one asked for; `entry` is in milliseconds from its beat.
fn judge(note: &Note, entry: Option<f64>) -> Judged {
    let cents = note.placed.map_or(note.named.cents, |placed| placed.cents);
    let way = |steps: i8| if steps < 0 { Way::Down } else { Way::Up };
    let verdict = match note.placed.map(|placed| placed.place) {
        Some(Place::Partial { heard, wanted }) => {
            NonZeroI8::new(heard as i8 - wanted as i8).map_or(Verdict::OffTheSeries, Verdict::Partials)
        }
        Some(Place::Octave(steps)) => NonZeroI8::new(steps).map_or(Verdict::OtherNote, Verdict::Octaves),
        Some(Place::Twelfth(steps)) => Verdict::Twelfth(way(steps)),
        Some(Place::OffTheSeries) => Verdict::OffTheSeries,
        Some(Place::Other) | None => Verdict::OtherNote,
        Some(Place::Target) if cents.0 < -IN_TUNE.0 => Verdict::Flat,
        Some(Place::Target) if cents.0 > IN_TUNE.0 => Verdict::Sharp,
        Some(Place::Target) if entry.is_some_and(|entry| entry > IN_TIME_MS) => Verdict::Late,
        Some(Place::Target) if entry.is_some_and(|entry| entry < -IN_TIME_MS) => Verdict::Early,
        Some(Place::Target) => Verdict::OnIt,
    };
    Judged { verdict, heard: Some(note.named.written), cents: Some(cents), entry_ms: entry, confidence: note.confidence }
}
