//! A held concert pitch and what stands on it.

use pitch::{Concert, Temperament, Tuning};
use std::ops::RangeInclusive;
use units::Hertz;

use crate::{Room, Section};

/// A drone: a root, the notes stacked on it, and how they are tuned.
#[derive(Clone, Debug, PartialEq)]
pub struct Drone {
    /// The concert pitch to tune to.
    pub root: Concert,
    /// What sounds; a drone with an empty stack sounds its root.
    pub stack: Vec<StackTone>,
    /// How the stack is tuned over the root.
    pub temperament: Temperament,
    /// In which octaves it sounds.
    pub registers: Registers,
}

/// In which octaves a drone sounds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Registers {
    /// Where it is written, and nowhere else.
    #[default]
    Stack,
    /// Doubled in as many further octaves as it takes for every section to find the root among its comfortable notes.
    Room,
}

/// One note of a drone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StackTone {
    /// The root itself.
    Root,
    /// The perfect fifth above the root.
    Fifth,
    /// The octave above the root.
    Octave,
    /// The octave below the root.
    LowerOctave,
    /// Any other concert pitch.
    Free(Concert),
}

/// One note of a tuned drone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TunedTone {
    /// Semitones above the root; negative below.
    pub semitones: i32,
    /// Exact ratio to the root where the temperament has one; nothing in equal temperament but for octaves.
    pub ratio: Option<(u32, u32)>,
    /// What sounds.
    pub frequency: Hertz,
}

impl Drone {
    /// The most notes a drone holds.
    pub const MAX_TONES: usize = 8;
    /// The notes a drone keeps to, on the MIDI scale: E1 to C6, where small loudspeakers sound and young ears are not hurt; the bounds are ours.
    pub const RANGE: RangeInclusive<i32> = 28..=84;
    /// The ends of [`Self::RANGE`] by name.
    pub const RANGE_NAMES: (&str, &str) = ("E1", "C6");

    /// The frequency of the root at the room's reference.
    #[must_use]
    pub fn root_frequency(&self, room: &Room) -> Hertz {
        self.tuning(room).frequency(self.root)
    }

    /// Every note, tuned, at most [`Self::MAX_TONES`] of them: the stack, then its roots in further octaves, then the rest of the stack in
    /// the octaves above. Below, the root stands alone: close intervals are unclear down there (common practice, no source).
    #[must_use]
    pub fn tuned(&self, room: &Room) -> Vec<TunedTone> {
        let tuning = self.tuning(room);
        self.semitones(room)
            .into_iter()
            .map(|semitones| {
                let ratio = octave_ratio(semitones, self.temperament);
                let root = tuning.frequency(self.root);
                let frequency = match ratio {
                    Some((upper, lower)) => Hertz::new(root.hz() * f64::from(upper) / f64::from(lower)).unwrap_or(root),
                    None => root.moved(units::Cents(f64::from(semitones) * 100.0)),
                };
                TunedTone { semitones, ratio, frequency }
            })
            .collect()
    }

    /// How far each note lies above the root.
    fn semitones(&self, room: &Room) -> Vec<i32> {
        let root = self.root.semitone();
        let stack: &[StackTone] = if self.stack.is_empty() { &[StackTone::Root] } else { &self.stack };
        let above = |tone: &StackTone| match tone {
            StackTone::Root => 0,
            StackTone::Fifth => 7,
            StackTone::Octave => 12,
            StackTone::LowerOctave => -12,
            StackTone::Free(pitch) => pitch.semitone() - root,
        };
        let mut notes: Vec<i32> = stack.iter().map(above).collect();
        let octaves = match self.registers {
            Registers::Stack => Vec::new(),
            Registers::Room => self.octaves(room),
        };
        let roots = octaves.iter().map(|octave| 12 * octave);
        let rest = octaves.iter().filter(|octave| **octave > 0).flat_map(|octave| stack.iter().map(move |tone| above(tone) + 12 * octave));
        for note in roots.chain(rest) {
            if !notes.contains(&note) && Self::RANGE.contains(&(root + note)) {
                notes.push(note);
            }
        }
        notes.truncate(Self::MAX_TONES);
        notes
    }

    /// The further octaves, counted from the root, in which sections of `room` look for it; those that most sections need come first.
    fn octaves(&self, room: &Room) -> Vec<i32> {
        let root = self.root.semitone();
        let ranges: Vec<(i32, i32)> = room.sections.iter().map(Section::comfortable_semitones).collect();
        let finds = |octave: i32, range: &(i32, i32)| (range.0..=range.1).contains(&(root + 12 * octave));
        let mut wanting: Vec<&(i32, i32)> = ranges.iter().filter(|range| !finds(0, range)).collect();
        let mut octaves = Vec::new();
        let reachable = |octave: &i32| Self::RANGE.contains(&(root + 12 * octave));
        loop {
            let helped = |octave: i32| wanting.iter().filter(|range| finds(octave, range)).count();
            // the last of the best is taken: of two octaves as good as each other the nearer
            let best = [2, -2, 1, -1].into_iter().filter(reachable).max_by_key(|octave| helped(*octave));
            let Some(best) = best.filter(|best| helped(*best) > 0) else {
                return octaves;
            };
            octaves.push(best);
            wanting.retain(|range| !finds(best, range));
        }
    }

    fn tuning(&self, room: &Room) -> Tuning {
        let root = self.root.pitch();
        Tuning { temperament: self.temperament, tonic: root.class(), reference: room.reference }
    }
}

/// The exact ratio of an interval of any size, where the temperament (or the octave) has one.
fn octave_ratio(semitones: i32, temperament: Temperament) -> Option<(u32, u32)> {
    let within = semitones.rem_euclid(12) as u8;
    let (upper, lower) = if within == 0 { (1, 1) } else { temperament.ratio(within)? };
    let octaves = semitones.div_euclid(12);
    let factor = 1_u32.checked_shl(octaves.unsigned_abs()).filter(|factor| *factor <= 64)?;
    let (upper, lower) = if octaves >= 0 { (upper * factor, lower) } else { (upper, lower * factor) };
    let shared = greatest_common_divisor(upper, lower);
    Some((upper / shared, lower / shared))
}

fn greatest_common_divisor(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { greatest_common_divisor(b, a % b) }
}
