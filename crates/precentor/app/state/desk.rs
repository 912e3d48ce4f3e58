//! The drone as it is set.

use pitch::{Alteration, Concert, Pitch, Step, Temperament};
use sequencer::{Drone, Registers, StackTone};

/// A drone that is being set: every choice is kept, whether it sounds or not.
#[derive(Clone, Debug, PartialEq)]
pub struct Desk {
    /// The concert pitch to tune to.
    pub root: Concert,
    /// Whether the root itself sounds.
    pub with_root: bool,
    /// Whether the fifth above sounds.
    pub with_fifth: bool,
    /// Whether the octave above sounds.
    pub with_octave: bool,
    /// Whether the octave below sounds.
    pub with_lower_octave: bool,
    /// Any other note.
    pub free: Concert,
    /// Whether it sounds.
    pub with_free: bool,
    /// Whether it is doubled for every section of the room.
    pub for_room: bool,
    /// How the stack is tuned.
    pub temperament: Temperament,
}

/// A row of the drone's screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DeskRow {
    /// The root's pitch.
    Root,
    /// The root in the stack.
    WithRoot,
    /// The fifth.
    Fifth,
    /// The octave above.
    Octave,
    /// The octave below.
    LowerOctave,
    /// The free note.
    Free,
    /// The octaves of the room's sections.
    Registers,
    /// The tuning.
    Tuning,
    /// Sound it or let it go.
    Sound,
}

impl DeskRow {
    /// All rows, from the top.
    pub const ALL: [Self; 9] =
        [Self::Root, Self::WithRoot, Self::Fifth, Self::Octave, Self::LowerOctave, Self::Free, Self::Registers, Self::Tuning, Self::Sound];

    fn index(self) -> usize {
        Self::ALL.iter().position(|row| *row == self).unwrap_or(0)
    }

    /// The row below, or this one if it is the last.
    #[must_use]
    pub fn below(self) -> Self {
        Self::ALL.get(self.index() + 1).copied().unwrap_or(self)
    }

    /// The row above, or this one if it is the first.
    #[must_use]
    pub fn above(self) -> Self {
        self.index().checked_sub(1).and_then(|index| Self::ALL.get(index).copied()).unwrap_or(self)
    }
}

impl Desk {
    /// The settings of `drone`.
    #[must_use]
    pub fn of(drone: &Drone) -> Self {
        let has = |tone: StackTone| drone.stack.contains(&tone);
        let free = drone.stack.iter().find_map(|tone| match tone {
            StackTone::Free(pitch) => Some(*pitch),
            _ => None,
        });
        Self {
            root: drone.root,
            with_root: has(StackTone::Root) || drone.stack.is_empty(),
            with_fifth: has(StackTone::Fifth),
            with_octave: has(StackTone::Octave),
            with_lower_octave: has(StackTone::LowerOctave),
            free: free.unwrap_or_else(|| moved(drone.root, 4)),
            with_free: free.is_some(),
            for_room: drone.registers == Registers::Room,
            temperament: drone.temperament,
        }
    }

    /// The drone these settings ask for; the root alone if nothing is switched on.
    #[must_use]
    pub fn drone(&self) -> Drone {
        let stack = [
            (self.with_lower_octave, StackTone::LowerOctave),
            (self.with_root, StackTone::Root),
            (self.with_fifth, StackTone::Fifth),
            (self.with_octave, StackTone::Octave),
            (self.with_free, StackTone::Free(self.free)),
        ];
        let stack: Vec<StackTone> = stack.into_iter().filter_map(|(on, tone)| on.then_some(tone)).collect();
        Drone {
            root: self.root,
            stack: if stack.is_empty() { vec![StackTone::Root] } else { stack },
            temperament: self.temperament,
            registers: if self.for_room { Registers::Room } else { Registers::Stack },
        }
    }

    /// Moves what `row` holds by one step, if it holds something with steps.
    pub fn step(&mut self, row: DeskRow, by: i32) {
        match row {
            DeskRow::Root => self.root = moved(self.root, by),
            DeskRow::Free => self.free = moved(self.free, by),
            DeskRow::Tuning => {
                let here = Temperament::ALL.iter().position(|known| *known == self.temperament).unwrap_or(0) as i32;
                let next = (here + by).rem_euclid(Temperament::ALL.len() as i32);
                self.temperament = Temperament::ALL.get(next as usize).copied().unwrap_or_default();
            }
            DeskRow::WithRoot | DeskRow::Fifth | DeskRow::Octave | DeskRow::LowerOctave | DeskRow::Registers => self.toggle(row),
            DeskRow::Sound => {}
        }
    }

    /// Switches what `row` holds, if it is a switch.
    pub fn toggle(&mut self, row: DeskRow) {
        match row {
            DeskRow::WithRoot => self.with_root ^= true,
            DeskRow::Fifth => self.with_fifth ^= true,
            DeskRow::Octave => self.with_octave ^= true,
            DeskRow::LowerOctave => self.with_lower_octave ^= true,
            DeskRow::Free => self.with_free ^= true,
            DeskRow::Registers => self.for_room ^= true,
            DeskRow::Tuning => self.step(DeskRow::Tuning, 1),
            DeskRow::Root | DeskRow::Sound => {}
        }
    }
}

/// The note `by` semitones away, spelled with flats as bands read them, within the range of a drone.
fn moved(from: Concert, by: i32) -> Concert {
    spelled((from.semitone() + by).clamp(*Drone::RANGE.start(), *Drone::RANGE.end()))
}

/// The concert note at `semitone`, spelled in B flat major where it lies in it, else with flats but for F sharp and C sharp.
fn spelled(semitone: i32) -> Concert {
    use Alteration::{Flat, Natural, Sharp};
    const NAMES: [(Step, Alteration); 12] = [
        (Step::C, Natural),
        (Step::D, Flat),
        (Step::D, Natural),
        (Step::E, Flat),
        (Step::E, Natural),
        (Step::F, Natural),
        (Step::F, Sharp),
        (Step::G, Natural),
        (Step::A, Flat),
        (Step::A, Natural),
        (Step::B, Flat),
        (Step::B, Natural),
    ];
    let (step, alteration) = NAMES.get(semitone.rem_euclid(12) as usize).copied().unwrap_or((Step::C, Natural));
    let pitch = Pitch::new(step, alteration, semitone.div_euclid(12) - 1);
    Concert::new(pitch.unwrap_or_else(|_| unreachable!("a drone's range lies inside every octave that can be named")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drone_comes_back_from_its_settings() {
        let drone = Drone {
            root: "Bb3".parse().unwrap(),
            stack: vec![StackTone::LowerOctave, StackTone::Root, StackTone::Fifth, StackTone::Free("D4".parse().unwrap())],
            temperament: Temperament::Just,
            registers: Registers::Room,
        };
        assert_eq!(Desk::of(&drone).drone(), drone);
    }

    #[test]
    fn steps_are_semitones_and_stop_at_the_ends() {
        let mut desk = Desk::of(&Drone {
            root: "Bb3".parse().unwrap(),
            stack: Vec::new(),
            temperament: Temperament::Equal,
            registers: Registers::Stack,
        });
        desk.step(DeskRow::Root, 1);
        assert_eq!(desk.root.to_string(), "B3");
        desk.step(DeskRow::Root, -2);
        assert_eq!(desk.root.to_string(), "A3");
        for _ in 0..60 {
            desk.step(DeskRow::Root, -1);
        }
        assert_eq!(desk.root.to_string(), "E1");
        for _ in 0..90 {
            desk.step(DeskRow::Root, 1);
        }
        assert_eq!(desk.root.to_string(), "C6");
    }

    #[test]
    fn every_note_in_range_is_spelled_as_it_sounds() {
        for semitone in Drone::RANGE {
            assert_eq!(spelled(semitone).semitone(), semitone);
        }
    }

    #[test]
    fn a_drone_with_everything_off_sounds_its_root() {
        let mut desk = Desk::of(&Drone {
            root: "F3".parse().unwrap(),
            stack: vec![StackTone::Root],
            temperament: Temperament::Equal,
            registers: Registers::Stack,
        });
        desk.toggle(DeskRow::WithRoot);
        assert_eq!(desk.drone().stack, [StackTone::Root]);
    }
}
