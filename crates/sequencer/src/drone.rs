//! A held concert pitch and what stands on it.

use pitch::{Concert, Temperament, Tuning};
use units::Hertz;

use crate::Room;

/// A drone: a root, the notes stacked on it, and how they are tuned.
#[derive(Clone, Debug, PartialEq)]
pub struct Drone {
    /// The concert pitch to tune to.
    pub root: Concert,
    /// What sounds; a drone with an empty stack sounds its root.
    pub stack: Vec<StackTone>,
    /// How the stack is tuned over the root.
    pub temperament: Temperament,
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

    /// The frequency of the root at the room's reference.
    #[must_use]
    pub fn root_frequency(&self, room: &Room) -> Hertz {
        self.tuning(room).frequency(self.root)
    }

    /// Every note of the stack, tuned, at most [`Self::MAX_TONES`] of them.
    #[must_use]
    pub fn tuned(&self, room: &Room) -> Vec<TunedTone> {
        let tuning = self.tuning(room);
        let stack: &[StackTone] = if self.stack.is_empty() { &[StackTone::Root] } else { &self.stack };
        let root = self.root.pitch().semitone();
        stack
            .iter()
            .take(Self::MAX_TONES)
            .map(|tone| {
                let semitones = match tone {
                    StackTone::Root => 0,
                    StackTone::Fifth => 7,
                    StackTone::Octave => 12,
                    StackTone::LowerOctave => -12,
                    StackTone::Free(pitch) => pitch.pitch().semitone() - root,
                };
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
