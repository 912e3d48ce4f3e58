//! A plan made ready to sound: every word has its clips, every section its voice.

use sequencer::plan::{PlannedSound, Sound};
use sequencer::words::{self, Phrase};
use sequencer::{Drone, Plan, Room};
use std::sync::Arc;
use synth::{Bus, DroneChord, DroneTone, Drum, SampleBank, SoundIndex, Timbre};
use units::{Cents, FrameSpan, Gain, SampleRate};

use crate::speech::{ClipInfo, Pack, Tier};

/// A plan with the clips and voices it needs, for one sample rate. Made on the control side; never changes.
#[derive(Clone, Debug)]
pub struct Score {
    /// What happens when.
    pub plan: Plan,
    voices: Vec<Option<SectionVoice>>,
    samples: Option<Arc<SampleBank>>,
    /// Clips of each distinct phrase.
    phrases: Vec<PhraseClips>,
    /// For each of the plan's sounds, its phrase.
    phrase_of: Vec<Option<u16>>,
    /// The lead of the counting word "one", kept free in front of every bar.
    bar_lead: [FrameSpan; TIERS],
    /// Clips of the words that may be said in a rest, in the order of [`words::REMARKS`].
    remarks: [WordClips; words::REMARKS.len()],
    unspoken: Vec<&'static str>,
    tone_levels: Vec<Gain>,
    chord: Option<DroneChord>,
}

/// The level of every tone among the tones that start with it. Tones of one pitch start in phase and add as they are, others as power.
fn tone_levels(plan: &Plan) -> Vec<Gain> {
    let level = |together: &[PlannedSound]| {
        let frequency = |planned: &PlannedSound| match planned.sound {
            Sound::Tone { pitch, .. } => Some(pitch.frequency.hz()),
            _ => None,
        };
        let tones = || together.iter().filter_map(frequency);
        let power: usize = tones().map(|hz| tones().filter(|other| *other == hz).count()).sum();
        Gain::new(1.0 / (power.max(1) as f32).sqrt())
    };
    let beats = plan.bars.iter().flat_map(|bar| plan.sounds_of(bar).chunk_by(|a, b| a.beat == b.beat));
    beats.flat_map(|together| std::iter::repeat_n(level(together), together.len())).collect()
}

/// What sounds a section's model.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SectionVoice {
    /// A built-in timbre.
    Timbre(Timbre),
    /// A sound of the score's sample bank.
    Sampled(SoundIndex),
    /// A drum: the section's rhythm without a pitch.
    Drum(Drum),
}

/// The recorded sounds of a room: their bank, and which of them each section has.
#[derive(Clone, Debug)]
pub struct RoomSounds {
    /// The bank.
    pub bank: Arc<SampleBank>,
    /// For each section of the room its sound; nothing for the built-in one.
    pub sounds: Vec<Option<SoundIndex>>,
}

impl SectionVoice {
    fn of(instrument: &str) -> Option<Self> {
        let drum = || Drum::for_instrument(instrument).map(Self::Drum);
        Timbre::for_instrument(instrument).map(Self::Timbre).or_else(drum)
    }
}

/// How many lengths a word may come in.
pub const TIERS: usize = Tier::ALL.len();

/// One recorded word at the engine's rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClipTiming {
    /// Its number in the clip bank.
    pub clip: u16,
    /// From its first sample to its perceptual attack.
    pub lead: FrameSpan,
    /// Its whole length.
    pub length: FrameSpan,
}

/// A word in every length it was recorded in, longest first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct WordClips {
    tiers: [Option<ClipTiming>; TIERS],
}

/// The clips of a phrase.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PhraseClips {
    words: [WordClips; Phrase::MAX],
    ids: Phrase,
}

impl WordClips {
    /// What is said in a bar that speaks in `tier`: a word short enough as it is stays so.
    #[must_use]
    pub fn tier(&self, tier: usize) -> Option<ClipTiming> {
        self.tiers.get(tier).copied().flatten()
    }
}

impl PhraseClips {
    /// The words' clips, in speaking order, with their ids.
    pub fn words(&self) -> impl Iterator<Item = (&'static str, &WordClips)> {
        self.ids.words().iter().copied().zip(&self.words)
    }

    /// The only word, if there is just one.
    #[must_use]
    pub fn single(&self) -> Option<&WordClips> {
        if self.ids.words().len() == 1 { self.words.first() } else { None }
    }
}

impl Score {
    /// Makes `plan` ready for `room`, spoken by `pack`, at `rate`. A word the pack lacks is a click.
    #[must_use]
    pub fn new(plan: Plan, room: &Room, pack: &Pack, rate: SampleRate) -> Self {
        let mut unspoken = Vec::new();
        let mut distinct: Vec<Phrase> = Vec::new();
        let mut phrases = Vec::new();
        let mut phrase_of = Vec::with_capacity(plan.sounds.len());
        for sound in &plan.sounds {
            let phrase = match sound.sound {
                Sound::Words(phrase) => phrase,
                Sound::Between(word) => Phrase::word(word),
                Sound::Tone { .. } | Sound::Click { .. } | Sound::Breath { .. } => {
                    phrase_of.push(None);
                    continue;
                }
            };
            let index = match distinct.iter().position(|known| *known == phrase) {
                Some(index) => index,
                None => {
                    distinct.push(phrase);
                    phrases.push(phrase_clips(phrase, pack, rate));
                    unspoken.extend(phrase.words().iter().copied().filter(|word| pack.index_of(word).is_none()));
                    distinct.len() - 1
                }
            };
            phrase_of.push(Some(index as u16));
        }
        let voices = room.sections.iter().map(|section| SectionVoice::of(section.instrument.id())).collect();
        let one = word_clips("one", pack, rate);
        let bar_lead = std::array::from_fn(|tier| one.tier(tier).map_or(FrameSpan::ZERO, |clip| clip.lead));
        unspoken.sort_unstable();
        unspoken.dedup();
        let remarks = words::REMARKS.map(|word| word_clips(word, pack, rate));
        let tone_levels = tone_levels(&plan);
        let chord = plan.drone.as_ref().map(|drone| drone_chord(drone, room));
        Self { plan, voices, samples: None, phrases, phrase_of, bar_lead, remarks, unspoken, tone_levels, chord }
    }

    /// The drone the plan holds, if it holds one.
    #[must_use]
    pub const fn chord(&self) -> Option<DroneChord> {
        self.chord
    }

    /// How loud the tone at `index` of the plan's sounds is, so that one section's model and everyone's are as loud.
    #[must_use]
    pub fn tone_level(&self, index: u32) -> Gain {
        self.tone_levels.get(index as usize).copied().unwrap_or(Gain::UNITY)
    }

    /// The same score with recorded sounds for the sections that have one. Drums stay drums: a recorded sound sings pitches.
    #[must_use]
    pub fn with_sounds(mut self, room: &RoomSounds) -> Self {
        for (voice, sound) in self.voices.iter_mut().zip(&room.sounds) {
            if let (Some(sound), Some(SectionVoice::Timbre(_)) | None) = (sound, &voice) {
                *voice = Some(SectionVoice::Sampled(*sound));
            }
        }
        self.samples = Some(Arc::clone(&room.bank));
        self
    }

    /// The recorded sounds its sections take theirs from.
    #[must_use]
    pub const fn samples(&self) -> Option<&Arc<SampleBank>> {
        self.samples.as_ref()
    }

    /// The voice of a section, if its instrument has one.
    #[must_use]
    pub fn voice(&self, section: sequencer::SectionIndex) -> Option<SectionVoice> {
        self.voices.get(usize::from(section.0)).copied().flatten()
    }

    /// The clips of the plan's sound number `sound`, if it is spoken.
    #[must_use]
    pub fn phrase(&self, sound: u32) -> Option<&PhraseClips> {
        self.phrases.get(usize::from((*self.phrase_of.get(sound as usize)?)?))
    }

    /// The clip of a word of a remark, at its full length; nothing if it is no such word, or this voice lacks it.
    #[must_use]
    pub fn remark(&self, word: &str) -> Option<ClipTiming> {
        let place = words::REMARKS.iter().position(|known| *known == word)?;
        self.remarks.get(place)?.tier(0)
    }

    /// The words of the plan that its voice cannot say.
    #[must_use]
    pub fn unspoken(&self) -> &[&'static str] {
        &self.unspoken
    }

    /// How much time the first word of the next bar may need before its bar line.
    #[must_use]
    pub fn bar_lead(&self, tier: usize) -> FrameSpan {
        self.bar_lead.get(tier).copied().unwrap_or(FrameSpan::ZERO)
    }
}

fn phrase_clips(phrase: Phrase, pack: &Pack, rate: SampleRate) -> PhraseClips {
    let mut words = [WordClips::default(); Phrase::MAX];
    for (slot, word) in words.iter_mut().zip(phrase.words()) {
        *slot = word_clips(word, pack, rate);
    }
    PhraseClips { words, ids: phrase }
}

fn word_clips(word: &str, pack: &Pack, rate: SampleRate) -> WordClips {
    let timing = |info: ClipInfo| ClipTiming {
        clip: info.clip,
        lead: rate.span(info.attack_ms / 1000.0),
        length: rate.span(info.duration_ms / 1000.0),
    };
    let spoken = |tier| pack.index_of(word).and_then(|index| pack.word(index).spoken(tier)).map(timing);
    WordClips { tiers: Tier::ALL.map(spoken) }
}

/// The chord a drone sounds in a room, its notes at equal power.
#[must_use]
pub fn drone_chord(drone: &Drone, room: &Room) -> DroneChord {
    let tuned = drone.tuned(room);
    let root = drone.root_frequency(room);
    let level = Gain::new(1.0 / (tuned.len().max(1) as f32).sqrt());
    let mut tones = [None; synth::drone::DRONE_TONES];
    for (slot, tone) in tones.iter_mut().zip(&tuned) {
        let (ratio, detune) = match tone.ratio {
            Some(ratio) => (ratio, Cents(0.0)),
            None => ((1, 1), Cents(f64::from(tone.semitones) * 100.0)),
        };
        *slot = Some(DroneTone { ratio, detune, level });
    }
    DroneChord { root, tones }
}

/// The bus a section's model sounds on.
#[must_use]
pub fn section_bus(section: sequencer::SectionIndex) -> Bus {
    Bus::Section(section.0)
}
