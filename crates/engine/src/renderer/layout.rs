//! One bar of a plan onto the sample clock: every sound gets its frame, every word the length that fits.

use sequencer::TurnKind;
use sequencer::cursor::LaidBar;
use sequencer::plan::{PlannedSound, Sound};
use synth::{Breath, ClickKind, Tone};
use units::{Beats, FrameInstant, Gain};

use crate::schedule::{Schedule, Upcoming};
use crate::score::{ClipTiming, PhraseClips, TIERS, section_bus};
use crate::{LaidSound, Observer, Score, SectionVoice};

/// The pulse stays under the band and the voice.
pub(super) const CLICK_LEVEL: Gain = Gain::UNITY;
/// The inhale is heard in a room of thirty.
pub(super) const BREATH_LEVEL: Gain = Gain::UNITY;

/// Two words may overlap by this much when a length is chosen: the quiet ends of both. What still runs on is cut; a word that lost more of its end
/// would have its beat moved by more than 5 ms.
const OVERLAP_SECONDS: f64 = 0.015;
/// Words of one phrase run into each other by this much.
pub(super) const JOIN_SECONDS: f64 = 0.030;

/// Lays every sound of `bar` into `schedule`, and tells `observer`.
pub(super) fn lay(score: &Score, bar: LaidBar, schedule: &mut Schedule, observer: &mut impl Observer) {
    let Some(planned) = score.plan.bar(bar.index) else { return };
    if bar.jumped {
        schedule.push(bar.start, Upcoming::Release);
    }
    if bar.jumped && planned.turn == TurnKind::Hold {
        schedule.push(bar.start, Upcoming::Hold);
    }
    observer.bar(score, &bar);
    let sounds = score.plan.sounds_of(planned);
    let first = planned.sounds.start;
    let manner = Manner::of(score, &bar, sounds, first);
    let tier = manner.tier;
    for (offset, sound) in sounds.iter().enumerate() {
        let at = bar.frame_of(sound.beat);
        let mut click = |kind| {
            observer.sound(&bar, &LaidSound::Click { at, beat: sound.beat, kind });
            schedule.push(at, Upcoming::Click(kind));
        };
        match sound.sound {
            Sound::Words(_) | Sound::Between(_) if manner.says(sound) => {
                let Some(phrase) = score.phrase(first + offset as u32) else { continue };
                let limit =
                    manner.next_word(score, &bar, sounds, first, offset).unwrap_or_else(|| words_end(score, &bar, planned.turn, tier));
                say(phrase, &bar, sound, at, limit, tier, schedule, observer);
            }
            Sound::Words(_) => {}
            Sound::Between(_) => click(ClickKind::Subdivision),
            Sound::Tone { section, pitch, length } => {
                let end = bar.frame_of(sound.beat + length);
                observer.sound(&bar, &LaidSound::Tone { at, end, beat: sound.beat, section, pitch });
                let (bus, frequency, level) = (section_bus(section), pitch.frequency, score.tone_level(first + offset as u32));
                let upcoming = score.voice(section).map(|voice| match voice {
                    SectionVoice::Timbre(timbre) => Upcoming::Tone(Tone { timbre, frequency, start: at, end, level, bus, slide: None }),
                    SectionVoice::Sampled(timbre) => Upcoming::Sampled(Tone { timbre, frequency, start: at, end, level, bus, slide: None }),
                    SectionVoice::Drum(drum) => Upcoming::Stroke { drum, level, bus },
                });
                if let Some(upcoming) = upcoming {
                    schedule.push(at, upcoming);
                }
            }
            Sound::Click { downbeat } => click(if downbeat { ClickKind::Downbeat } else { ClickKind::Beat }),
            Sound::Breath { length } => {
                let end = bar.frame_of(sound.beat + length);
                observer.sound(&bar, &LaidSound::Breath { at, end, beat: sound.beat });
                schedule.push(at, Upcoming::Breath(Breath { start: at, end }));
            }
        }
    }
    schedule.settle();
}

/// How the words of a bar are said: all in one length, and with the words between the beats or without.
#[derive(Clone, Copy)]
struct Manner {
    tier: usize,
    between: bool,
}

impl Manner {
    /// The longest recorded length in which every word of the bar is over, to within the allowed overlap, when the next begins. Where none is
    /// short enough, the words between the beats are left out.
    fn of(score: &Score, bar: &LaidBar, sounds: &[PlannedSound], first: u32) -> Self {
        // the shortest length is for quarters and sixths of a beat: an "and" has time to be a word, or is ticked
        let finest = sounds.iter().filter(|sound| matches!(sound.sound, Sound::Between(_))).map(|sound| sound.beat.denominator()).max();
        let tiers = if finest == Some(2) { TIERS - 1 } else { TIERS };
        let manners = [(true, tiers), (false, TIERS)];
        let manners = manners.into_iter().flat_map(|(between, tiers)| (0..tiers).map(move |tier| Self { tier, between }));
        let shortest = Self { tier: TIERS - 1, between: false };
        manners.into_iter().find(|manner| manner.fits(score, bar, sounds, first)).unwrap_or(shortest)
    }

    fn fits(self, score: &Score, bar: &LaidBar, sounds: &[PlannedSound], first: u32) -> bool {
        let overlap = bar.clock.rate.span(OVERLAP_SECONDS);
        let mut before: Option<(FrameInstant, ClipTiming)> = None;
        for (sound, phrase) in self.phrases(score, sounds, first, 0) {
            let Some(clip) = phrase.single().and_then(|word| word.tier(self.tier)) else { continue };
            let at = bar.frame_of(sound.beat);
            if let Some((previous, previous_clip)) = before
                && previous + previous_clip.length > at.back(clip.lead) + previous_clip.lead + overlap
            {
                return false;
            }
            before = Some((at, clip));
        }
        before.is_none_or(|(at, clip)| at + clip.length <= bar.end.back(score.bar_lead(self.tier)) + clip.lead + overlap)
    }

    /// Whether `sound` is said, if it is spoken at all.
    const fn says(self, sound: &PlannedSound) -> bool {
        self.between || !matches!(sound.sound, Sound::Between(_))
    }

    /// What is said from sound number `from` of the bar on.
    fn phrases<'a>(
        self,
        score: &'a Score,
        sounds: &'a [PlannedSound],
        first: u32,
        from: usize,
    ) -> impl Iterator<Item = (&'a PlannedSound, &'a PhraseClips)> {
        let said = move |(offset, sound): (usize, &'a PlannedSound)| Some((sound, score.phrase(first + offset as u32)?));
        sounds.iter().enumerate().skip(from).filter(move |(_, sound)| self.says(sound)).filter_map(said)
    }

    /// Where the first sample of the word after sound number `offset` of the bar falls.
    fn next_word(self, score: &Score, bar: &LaidBar, sounds: &[PlannedSound], first: u32, offset: usize) -> Option<FrameInstant> {
        self.phrases(score, sounds, first, offset + 1).find_map(|(sound, phrase)| {
            let (_, word) = phrase.words().next()?;
            Some(bar.frame_of(sound.beat).back(word.tier(self.tier)?.lead))
        })
    }
}

/// Where the words of `bar` must be over: before the first word of the bar after it, or, for a call, of the bar after its last.
fn words_end(score: &Score, bar: &LaidBar, turn: TurnKind, tier: usize) -> FrameInstant {
    let following = (bar.index + 1..).map_while(|index| score.plan.bar(index));
    let call = following.take_while(|next| turn == TurnKind::Call && next.turn == turn && !next.opens_turn);
    let own = score.plan.bar(bar.index).map_or(Beats::ZERO, |bar| bar.length);
    bar.frame_of(call.fold(own, |beats, bar| beats + bar.length)).back(score.bar_lead(tier))
}

#[allow(clippy::too_many_arguments, reason = "all of it places one phrase")]
fn say(
    phrase: &PhraseClips,
    bar: &LaidBar,
    sound: &PlannedSound,
    at: FrameInstant,
    limit: FrameInstant,
    tier: usize,
    schedule: &mut Schedule,
    observer: &mut impl Observer,
) {
    let join = bar.clock.rate.span(JOIN_SECONDS);
    let tier = if phrase.single().is_some() { tier } else { 0 };
    let mut attack = at;
    let mut free_from: Option<FrameInstant> = None;
    for (word, clips) in phrase.words() {
        let Some(clip) = clips.tier(tier) else {
            // no voice says it: where its beat would be, something sounds all the same
            if free_from.is_none() {
                observer.sound(bar, &LaidSound::Click { at, beat: sound.beat, kind: ClickKind::Beat });
                schedule.push(at, Upcoming::Click(ClickKind::Beat));
            }
            continue;
        };
        let start = match free_from {
            None => at.back(clip.lead),
            Some(previous_end) => {
                attack = previous_end.back(join) + clip.lead;
                previous_end.back(join)
            }
        };
        if start >= limit {
            break;
        }
        let whole = start + clip.length;
        let cut = (whole > limit).then_some(limit);
        let end = cut.unwrap_or(whole);
        observer.sound(bar, &LaidSound::Word { at: attack, end, beat: sound.beat, word, start, cut: cut.is_some() });
        schedule.push(start, Upcoming::Say { clip: clip.clip, cut });
        free_from = Some(end);
    }
}
