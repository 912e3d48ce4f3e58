//! The director's ear.

use crate::app::state::{Hearing, Input, SeatHeard, SectionHeard, Told};
use crate::inputs::Verdict;
use listen::cancel::Clearness;
use listen::section::entries::{Entries, Word};
use sequencer::Language;
use sequencer::words::Phrase;

/// A microphone that gives only zeros.
pub const MUTED: &str = "The microphone gives nothing but zeros: it is muted, or the system does not let this program hear it.";

/// It gives sound after all.
pub const UNMUTED: &str = "The microphone gives sound again.";
/// A room is measured with the microphone.
pub const MEASURE_NEEDS_IT: &str = "The room is measured with the microphone: m opens it first.";
/// A room is being measured.
pub const MEASURING: &str = "A soft sweep of five seconds measures the room: quiet, please.";

/// What the microphone gives: a row of so many signs from 60 dB under its own full scale up to it, `=` up to the mean and `|` at the largest
/// sample, with the mean in numbers. Nothing is said of dB in the room.
#[must_use]
pub fn input(input: &Input, signs: i32) -> String {
    let Some(mean) = input.mean else { return "mic: digital silence".to_owned() };
    let place = |level: i32| ((level - SOFTEST) * signs).div_euclid(-SOFTEST).clamp(0, signs);
    let (upto, peak) = (place(mean), input.peak.map(|peak| place(peak).min(signs - 1)));
    let sign = |at: i32| match at {
        _ if peak == Some(at) => '|',
        _ if at < upto => '=',
        _ => '.',
    };
    let row: String = (0..signs).map(sign).collect();
    let over = if input.clips { OVERDRIVEN } else { "" };
    format!("mic {row} {mean} dBFS{over}")
}

/// Where the row of what the microphone gives begins, in dB under its full scale.
const SOFTEST: i32 = -60;
/// Too loud for the microphone.
const OVERDRIVEN: &str = " CLIPS";

/// The room was measured.
#[must_use]
pub fn measured(clearness: Clearness) -> String {
    match clearness {
        Clearness::Clear(taken) => format!("The room is measured: our own sound is taken out by {:.0} dB, and entries are told.", taken.0),
        Clearness::Poor(taken) => format!(
            "The room is measured, but only {:.0} dB of our own sound can be taken out: it distorts, or changes; nobody is judged under a drone.",
            taken.0
        ),
        Clearness::Unknown => "The room was not measured.".to_owned(),
    }
}

/// The room was not measured.
#[must_use]
pub fn not_measured(why: &str) -> String {
    format!("The room was not measured: {why}")
}

/// A drone sounds while somebody echoes, and cannot be taken out.
pub const UNDER_A_DRONE: &str = "The drone cannot be taken out of what the microphone hears, so nobody is judged under it: o lets it go.";

/// The microphone's delay is known.
#[must_use]
pub fn met(delay: f64) -> String {
    format!("The microphone is {:.0} ms behind the loudspeaker; u measures the room, and then entries are told.", 1000.0 * delay)
}

/// How the microphone stands, and for how many days the sound of echoes is kept, if it is.
#[must_use]
pub fn hearing(hearing: &Hearing, recording: Option<u16>) -> String {
    match hearing {
        Hearing::Off => "The microphone hears no more.".to_owned(),
        Hearing::Opening => "The microphone is being opened.".to_owned(),
        Hearing::On(name) => {
            let kept =
                recording.map_or_else(|| "no sound is kept".to_owned(), |days| format!("RECORDING: their sound is kept for {days} days"));
            format!("{name} hears the echoes; {kept}. What you note yourself counts.")
        }
        Hearing::Failed(why) => format!("The microphone cannot be used: {why}"),
        Hearing::Lost(why) => format!("The microphone is lost ({why}); it is looked for, and the class goes on."),
    }
}

/// What was heard of a seat.
#[must_use]
pub fn heard(heard: &SeatHeard) -> String {
    let SeatHeard { seat, target, judged, .. } = heard;
    let what = match (judged.heard, judged.cents) {
        (Some(note), _) if note != *target => format!(", {note} for {target}"),
        (Some(_), Some(cents)) => format!(", {:+.0} cents", cents.0),
        _ => String::new(),
    };
    format!("Seat {seat}: {}{what}.", judged.verdict)
}

/// Verdicts are to be said aloud, and nobody listens.
pub const SAYING_NEEDS_IT: &str = "In a roll, the voice says in the rest what the microphone heard: m opens it first.";

/// Whether verdicts are said aloud from now on; what is led may have no rest to say them in.
#[must_use]
pub const fn says_verdicts(say: bool, rests: bool) -> &'static str {
    match (say, rests) {
        (false, _) => "What the microphone hears is shown and not said.",
        (true, true) => "In a roll, the voice says in the rest after each echo what the microphone heard.",
        (true, false) => "What is heard would be said in the rest after an echo, but this drill has none: give it a turn rest = {}.",
    }
}

/// What the voice says of an echo; nothing for a note off the series, which is for the eye.
#[must_use]
pub fn spoken(verdict: records::Verdict, language: Language) -> Option<Phrase> {
    use records::{Verdict as V, Way};
    let side = |below: bool| if below { "too_low" } else { "too_high" };
    // in other languages the words for these are the signs before a note
    let tuned = language == Language::English;
    Some(match verdict {
        V::OnIt => Phrase::word("on_it"),
        V::Low | V::Twelfth(Way::Down) => Phrase::word(side(true)),
        V::High | V::Twelfth(Way::Up) => Phrase::word(side(false)),
        V::Partials(steps) => partials(steps.get()).unwrap_or_else(|| Phrase::word(side(steps.get() < 0))),
        V::Octaves(steps) => Phrase::new(&["octave", side(steps.get() < 0)]),
        V::Flat => Phrase::word(if tuned { "flat" } else { side(true) }),
        V::Sharp => Phrase::word(if tuned { "sharp" } else { side(false) }),
        V::Late => Phrase::word("late"),
        V::Early => Phrase::word("early"),
        V::OtherNote => Phrase::word("another_note"),
        V::Nothing => Phrase::word("nothing"),
        V::OffTheSeries => return None,
    })
}

/// So many partials low or high; nothing where there are more than remarks have numbers for.
fn partials(steps: i8) -> Option<Phrase> {
    let number = ["one", "two", "three", "four"].get(usize::from(steps.unsigned_abs()).checked_sub(1)?)?;
    let partials = if steps.unsigned_abs() == 1 { "partial" } else { "partials" };
    Some(Phrase::new(&[number, partials, if steps < 0 { "low" } else { "high" }]))
}

/// An adaptive drill without a microphone.
pub const ADAPTIVE_IS_DEAF: &str = "This drill goes by what it hears: m opens the microphone; without it every round is played.";

/// What was heard of a section in one note.
#[must_use]
pub fn section(name: &str, heard: &SectionHeard) -> String {
    let (Some(seated), Some(on)) = (&heard.seated, heard.on_target()) else {
        return format!("{name}: no section was to be heard.");
    };
    let SectionHeard { target, heads, .. } = heard;
    let (least, most) = (heard.heads_of(on.bounds.0), heard.heads_of(on.bounds.1));
    let sure = if least == most { String::new() } else { format!(" ({least} to {most})") };
    let astray = heard.astray().map(|note| (heard.heads_of(note.share), note.written)).filter(|(count, _)| *count > 0);
    let astray = astray.map_or_else(String::new, |(count, written)| format!(", {count} on {written}"));
    let elsewhere = if seated.elsewhere > ELSEWHERE { ELSEWHERE_TOLD } else { "" };
    let came = heard.entries.as_ref().map(came).unwrap_or_default();
    format!("{name}: about {} of {heads} on {target}{sure}{astray}.{elsewhere}{came}", heard.heads_of(on.share))
}

/// How a section came in, with how sure that is.
fn came(entries: &Entries) -> String {
    let Entries { spread_ms, doubt_ms, mean_ms, mean_doubt_ms, word } = entries;
    format!(
        " {}: {spread_ms:.0} ms apart, give or take {doubt_ms:.0}; {:.0} ms {} the beat, give or take {mean_doubt_ms:.0}.",
        together(*word),
        mean_ms.abs(),
        if *mean_ms < 0.0 { "before" } else { "after" }
    )
}

/// How close a section's entries were.
#[must_use]
pub const fn together(word: Word) -> &'static str {
    match word {
        Word::Together => "Together",
        Word::Loose => "Loose",
        Word::Ragged => "Ragged",
    }
}

/// From this share of the sound on other notes it is told.
const ELSEWHERE: f64 = 0.4;
/// What is told then.
const ELSEWHERE_TOLD: &str = " Much of the sound was on none of its notes.";

/// How an adaptive drill goes on by what was heard.
#[must_use]
pub const fn decided(cue: sequencer::Cue) -> &'static str {
    match cue {
        sequencer::Cue::Landmark => "The landmark first.",
        _ => "On.",
    }
}

/// The note that was asked for.
#[must_use]
pub fn asked(target: pitch::Written) -> String {
    format!("asked: {target}")
}

/// What the microphone told, as large as can be: a word or a count, and its shape.
#[must_use]
pub fn large(told: &Told) -> (String, &'static str) {
    use records::{Kind, Verdict as V};
    let side = |steps: i8| if steps < 0 { "LOW" } else { "HIGH" };
    match told {
        Told::Seat(heard) => {
            let verdict = heard.judged.verdict;
            let word = match verdict {
                V::OnIt => "ON IT".to_owned(),
                V::Low => "LOW".to_owned(),
                V::High => "HIGH".to_owned(),
                V::Partials(steps) => format!("{} {}", steps.get().unsigned_abs(), side(steps.get())),
                V::Octaves(steps) => format!("8VE {}", side(steps.get())),
                V::Twelfth(records::Way::Down) => "12TH LOW".to_owned(),
                V::Twelfth(records::Way::Up) => "12TH HIGH".to_owned(),
                V::Flat => "FLAT".to_owned(),
                V::Sharp => "SHARP".to_owned(),
                V::Late => "LATE".to_owned(),
                V::Early => "EARLY".to_owned(),
                V::OffTheSeries | V::OtherNote => "OTHER".to_owned(),
                V::Nothing => "NOTHING".to_owned(),
            };
            let shape = match verdict.kind() {
                Kind::OnIt => "[=]",
                Kind::Near => "[~]",
                Kind::Low => "[v]",
                Kind::High => "[^]",
                Kind::Astray => "[?]",
                Kind::Nothing => "[ ]",
            };
            (word, shape)
        }
        Told::Section(heard) => match heard.on_target() {
            Some(on) => {
                let heads = heard.heads_of(on.share);
                let shape = if heads == heard.heads { "[=]" } else { "[:]" };
                (format!("{heads} OF {}", heard.heads), shape)
            }
            None => ("NOTHING".to_owned(), "[ ]"),
        },
    }
}

/// The heading of the table.
#[must_use]
pub fn title(section: &str) -> String {
    format!("{section}, as you heard them")
}

/// A verdict in words.
#[must_use]
pub const fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::OnIt => "on it",
        Verdict::Low => "low",
        Verdict::High => "high",
        Verdict::Silent => "silent",
    }
}

/// A verdict as a shape of three signs.
#[must_use]
pub const fn shape(verdict: Option<Verdict>) -> &'static str {
    match verdict {
        Some(Verdict::OnIt) => "[=]",
        Some(Verdict::Low) => "[v]",
        Some(Verdict::High) => "[^]",
        Some(Verdict::Silent) => "[ ]",
        None => " . ",
    }
}

/// A seat nothing was noted for.
pub const NOT_NOTED: &str = "not noted";
/// What becomes of it.
pub const KEPT: &str = "Kept by seat, not name: precentor records.";
/// Young lips.
pub const REST: &str = "Rest now, as long as they played.";

/// A seat.
#[must_use]
pub fn seat(number: usize) -> String {
    format!("seat {number}")
}

/// What the stage asks of a seat that has echoed.
#[must_use]
pub fn asks(seat: u16, noted: Option<Verdict>, keys: &str) -> String {
    let noted = noted.map_or("?", word);
    format!("seat {seat} {noted}:  {keys}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use records::{Verdict as V, Way};
    use std::num::NonZeroI8;

    #[test]
    fn what_is_heard_is_said_in_words_of_remarks() {
        let said = |verdict, language| spoken(verdict, language).map(|phrase| phrase.words().join(" "));
        let steps = |steps| NonZeroI8::new(steps).unwrap();
        for (verdict, words) in [
            (V::OnIt, Some("on_it")),
            (V::Partials(steps(-2)), Some("two partials low")),
            (V::Partials(steps(1)), Some("one partial high")),
            (V::Partials(steps(-5)), Some("too_low")),
            (V::Partials(steps(i8::MIN)), Some("too_low")),
            (V::Octaves(steps(1)), Some("octave too_high")),
            (V::Twelfth(Way::Down), Some("too_low")),
            (V::Flat, Some("flat")),
            (V::Late, Some("late")),
            (V::Nothing, Some("nothing")),
            (V::OffTheSeries, None),
        ] {
            assert_eq!(said(verdict, Language::English).as_deref(), words, "{verdict}");
            for language in [Language::English, Language::Spanish, Language::French] {
                let phrase = spoken(verdict, language);
                assert_eq!(phrase.is_some(), words.is_some());
                assert_eq!(phrase.and_then(|phrase| sequencer::words::remark(phrase.words().iter().copied())), phrase, "{verdict}");
            }
        }
    }
}
