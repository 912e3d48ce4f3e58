//! A whole section that answers alone: which notes it may sit on, who sat where, and how it came in; and what solos tell of how it sounds.

use listen::section::entries::{Entries, SectionEntries};
use listen::section::heads::Timbre;
use listen::{Section, Series, Shares};
use pitch::{Family, Instrument, Interval, Tuning, Written};
use units::{FrameInstant, FrameSpan, Hertz, SampleRate};

use super::{Asked, Judged};

/// How long after its beat all of a section have begun, in seconds.
pub const ALL_BEGUN: f64 = 0.35;
/// How long before its beat a section's entries are listened for, in seconds.
pub const COMES_IN: f64 = 0.5;
/// How long before the end of its note a section is told, in seconds: in time for the bar line to go by it.
const TOLD_BEFORE: f64 = 0.6;

/// How sure a solo's note must be for its timbre to be learnt.
const SURE: f64 = 0.7;

/// Those who answer a note, one or many, from when all have begun.
#[derive(Debug)]
struct Answering {
    section: Section,
    names: Vec<(Written, u8)>,
    begun: FrameInstant,
    now: FrameInstant,
}

impl Answering {
    fn new(
        instrument: &'static Instrument,
        tuning: &Tuning,
        heads: u8,
        asked: &Asked,
        rate: SampleRate,
        start: FrameInstant,
    ) -> Option<Self> {
        let (series, names) = series(instrument, tuning, asked.written)?;
        let begun = asked.at + rate.span(ALL_BEGUN);
        Some(Self { section: Section::new(series, Some(heads), rate), names, begun, now: start })
    }

    fn hear(&mut self, block: &[f32]) {
        let before = self.begun.since(self.now).0 as usize;
        self.section.hear(block.get(before..).unwrap_or_default());
        self.now += FrameSpan(block.len() as u64);
    }
}

/// What is listened for in a whole section, in one note of its echo.
#[derive(Debug)]
pub struct WholeSection {
    answering: Answering,
    beat: FrameInstant,
    entries: SectionEntries,
}

impl WholeSection {
    /// Listens from `start` on for what is `asked` of so many players. Nothing for what has no series to sit on.
    #[must_use]
    pub fn new(
        instrument: &'static Instrument,
        tuning: &Tuning,
        heads: u8,
        asked: &Asked,
        rate: SampleRate,
        start: FrameInstant,
    ) -> Option<Self> {
        let answering = Answering::new(instrument, tuning, heads, asked, rate, start)?;
        let mut entries = SectionEntries::new(rate);
        entries.resume(start);
        Some(Self { answering, beat: asked.at, entries })
    }

    /// Weighs beside what such a section may sound like how this one does, as learnt from its solos.
    pub fn add_timbre(&mut self, timbre: Timbre) {
        self.answering.section.add_timbre(timbre);
    }

    /// From where on sound is to be listened to, and up to where.
    #[must_use]
    pub fn window(asked: &Asked, rate: SampleRate) -> (FrameInstant, FrameInstant) {
        let early = asked.end.back(rate.span(TOLD_BEFORE));
        let upto = if early > asked.at + rate.span(2.0 * ALL_BEGUN) { early } else { asked.end };
        (asked.at.back(rate.span(COMES_IN)), upto)
    }

    /// Takes the next block of any length.
    pub fn hear(&mut self, block: &[f32]) {
        self.answering.hear(block);
        self.entries.hear(block);
    }

    /// Who sat where, and what each partial is called; nothing where no section was to be heard.
    #[must_use]
    pub fn shares(&mut self) -> Option<(Shares, &[(Written, u8)])> {
        let Answering { section, names, .. } = &mut self.answering;
        section.shares().map(|shares| (shares, names.as_slice()))
    }

    /// How it came in on its beat; nothing where that was not all heard.
    #[must_use]
    pub fn entries(&mut self) -> Option<Entries> {
        self.entries.told(self.beat)
    }
}

/// What is heard of one player alone, to learn how the section sounds.
#[derive(Debug)]
pub struct Solo(Answering);

impl Solo {
    /// Listens from `start` on to what is `asked` of a seat. Nothing for what has no series to sit on.
    #[must_use]
    pub fn new(instrument: &'static Instrument, tuning: &Tuning, asked: &Asked, rate: SampleRate, start: FrameInstant) -> Option<Self> {
        Answering::new(instrument, tuning, 1, asked, rate, start).map(Self)
    }

    /// Takes the next block of any length.
    pub fn hear(&mut self, block: &[f32]) {
        self.0.hear(block);
    }

    /// Lets `timbre` learn from it, if what was heard of it is `judged` to be a note of the series.
    pub fn teach(&self, judged: &Judged, timbre: &mut Timbre) {
        let partial = self.0.names.iter().find(|(written, _)| judged.heard == Some(*written)).map(|(_, partial)| *partial);
        if let (Some(partial), true, Some(grid)) = (partial, judged.confidence >= SURE, self.0.section.grid()) {
            timbre.learn(&grid, partial);
        }
    }
}

/// The notes among which a section that is asked for `written` may land, and what it calls each of them: on brass those of the same
/// fingering, on woodwinds the note of the low register with its octave and twelfth. Nothing for what has no such notes.
#[must_use]
pub fn series(instrument: &'static Instrument, tuning: &Tuning, written: Written) -> Option<(Series, Vec<(Written, u8)>)> {
    let series = match instrument.family() {
        Family::Woodwind => Series::overblown(instrument, tuning, written, instrument.overblown(written)?)?,
        _ => Series::around(instrument, tuning, written)?,
    };
    let fundamental = series.fundamental().hz();
    let named = |partial: &u8| {
        let sounding = Hertz::new(fundamental * f64::from(*partial)).ok()?;
        let name = listen::place::name(instrument, tuning, sounding)?.written;
        // the note asked for and its octaves keep its spelling
        let away = name.semitone() - written.semitone();
        let octaves = Interval::new(7 * (away / 12), away);
        Some((if away % 12 == 0 { Written::new(written.pitch().transposed(octaves)) } else { name }, *partial))
    };
    Some((series, series.partials().iter().filter_map(named).collect()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn notes(instrument: &str, written: &str) -> Vec<(String, u8)> {
        let instrument = Instrument::find(instrument).unwrap();
        let found = series(instrument, &Tuning::default(), written.parse().unwrap());
        found.map(|(_, notes)| notes.into_iter().map(|(note, partial)| (note.to_string(), partial)).collect()).unwrap_or_default()
    }

    fn list(notes: &[(&str, u8)]) -> Vec<(String, u8)> {
        notes.iter().map(|(note, partial)| ((*note).to_owned(), *partial)).collect()
    }

    #[test]
    fn a_woodwind_s_note_stands_with_what_its_fingers_give_besides() {
        assert_eq!(notes("flute", "F4"), list(&[("F4", 1), ("F5", 2), ("C6", 3)]));
        assert_eq!(notes("flute", "F5"), list(&[("F4", 1), ("F5", 2), ("C6", 3)]));
        // over the break the clarinet's fingers give the twelfth below
        assert_eq!(notes("clarinet", "C5"), list(&[("F3", 1), ("F4", 2), ("C5", 3)]));
        assert_eq!(notes("clarinet", "F3"), notes("clarinet", "C5"));
        assert_eq!(notes("alto sax", "G5"), list(&[("G4", 1), ("G5", 2), ("D6", 3)]));
        // as they were asked for
        assert_eq!(notes("oboe", "Ab5"), list(&[("Ab4", 1), ("Ab5", 2), ("Eb6", 3)]));
        assert_eq!(notes("oboe", "G#5"), list(&[("G#4", 1), ("G#5", 2), ("Eb6", 3)]));
        assert_eq!(notes("bassoon", "A3"), list(&[("A2", 1), ("A3", 2), ("E4", 3)]));
    }

    #[test]
    fn brass_stands_among_the_notes_of_its_fingering() {
        assert_eq!(notes("horn in F", "G4"), list(&[("C4", 4), ("E4", 5), ("G4", 6), ("C5", 8), ("E5", 10)]));
    }

    /// Flutes like no flute: with a fourth and an eighth harmonic so strong that some of them pass for players an octave above.
    fn players(cents: &[f64], rate: SampleRate, frames: usize) -> Vec<f32> {
        const POWERS: [f64; 8] = [1.0, 0.3, 0.1, 1.0, 0.02, 0.25, 0.01, 1.0];
        let flute = Instrument::find("flute").unwrap();
        let low = Tuning::default().frequency(flute.sounding("F4".parse().unwrap())).hz();
        let sample = |n: usize| -> f64 {
            let sum = cents.iter().enumerate().map(|(player, cents)| {
                let turn = std::f64::consts::TAU * low * (cents / 1200.0).exp2() * n as f64 / f64::from(rate.hz());
                let harmonics = POWERS
                    .iter()
                    .zip(1..)
                    .map(|(power, h)| power.sqrt() * (turn * f64::from(h) + 1.7 * (player * h as usize) as f64).sin());
                harmonics.sum::<f64>()
            });
            0.03 * sum.sum::<f64>()
        };
        (0..frames).map(|n| sample(n) as f32).collect()
    }

    #[test]
    fn a_strange_timbre_is_learnt_from_solos_and_then_no_longer_passes_for_the_octave() {
        let rate = SampleRate::DEFAULT;
        let flute = Instrument::find("flute").unwrap();
        let end = FrameInstant(rate.span(2.0).0);
        let asked = Asked {
            turn: 0,
            round: 0,
            section: sequencer::SectionIndex(0),
            seat: Some(1),
            written: "F4".parse().unwrap(),
            at: FrameInstant::ZERO,
            end,
        };
        let mut timbre = Timbre::parametric();
        let on_low = |learnt: Option<Timbre>| {
            let mut whole = WholeSection::new(flute, &Tuning::default(), 6, &asked, rate, FrameInstant::ZERO).unwrap();
            learnt.into_iter().for_each(|timbre| whole.add_timbre(timbre));
            whole.hear(&players(&[-9.0, -4.0, 1.0, 3.0, 6.0, 12.0], rate, 96_000));
            whole.shares().unwrap().0.on(1).unwrap().share
        };
        let judged = |heard: &str, confidence| Judged {
            verdict: records::Verdict::OnIt,
            heard: Some(heard.parse().unwrap()),
            cents: None,
            entry_ms: None,
            confidence,
        };
        let solo = |cents: f64| {
            let mut solo = Solo::new(flute, &Tuning::default(), &asked, rate, FrameInstant::ZERO).unwrap();
            players(&[cents], rate, 96_000).chunks(1000).for_each(|block| solo.hear(block));
            solo
        };
        // what is none of its notes, or not sure, teaches nothing
        solo(0.0).teach(&judged("G4", 0.9), &mut timbre);
        solo(0.0).teach(&judged("F4", 0.5), &mut timbre);
        assert_eq!(timbre, Timbre::parametric());
        let before = on_low(None);
        for seat in 0..6 {
            solo(2.0 * f64::from(seat)).teach(&judged("F4", 0.9), &mut timbre);
        }
        let after = on_low(Some(timbre));
        assert!(before < 0.8 && after > 0.95, "{before}, then {after}");
    }

    #[test]
    fn what_has_no_such_notes_has_none() {
        for (instrument, written) in [("flute", "E6"), ("clarinet", "D6"), ("double bass", "G3"), ("glockenspiel", "C5")] {
            assert_eq!(notes(instrument, written), [], "{instrument} {written}");
        }
    }
}
