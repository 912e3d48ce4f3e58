//! How loud each role is beside the others.

use units::Decibels;

/// What a sound is there for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Role {
    /// The tones a class echoes.
    Model,
    /// The held chord.
    Drone,
    /// Spoken words.
    Voice,
    /// The beat.
    Click,
    /// The inhale.
    Breath,
}

/// A level per role, in decibels beside the usual one. Each keeps to its [`Role::bounds`].
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Mix {
    levels: [f64; Role::ALL.len()],
}

/// The softest and loudest a section may be beside its usual level, in decibels; the bounds are ours.
pub const SECTION_BOUNDS: (f64, f64) = (-24.0, 6.0);

impl Role {
    /// Every role.
    pub const ALL: [Self; 5] = [Self::Model, Self::Drone, Self::Voice, Self::Click, Self::Breath];

    /// The softest and loudest level, in decibels beside the usual one; the bounds are ours. The voice has a floor: words that cannot be
    /// understood help nobody. Whatever it is set to, all but the clicks gives way to it by as much as it needs.
    #[must_use]
    pub const fn bounds(self) -> (f64, f64) {
        match self {
            Self::Voice => (-6.0, 6.0),
            Self::Model | Self::Drone | Self::Breath => (-24.0, 6.0),
            // a click does not give way to words, so it stays near its place under them
            Self::Click => (-24.0, 3.0),
        }
    }

    /// As files and the screen name it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Model => "model",
            Self::Drone => "drone",
            Self::Voice => "voice",
            Self::Click => "click",
            Self::Breath => "breath",
        }
    }

    const fn index(self) -> usize {
        self as usize
    }
}

impl Mix {
    /// The level of `role`, in decibels beside the usual one.
    #[must_use]
    pub fn level(&self, role: Role) -> Decibels {
        Decibels(self.levels.get(role.index()).copied().unwrap_or(0.0))
    }

    /// The same mix with `role` at `level`, brought within its bounds; a level that is no number changes nothing.
    #[must_use]
    pub fn with(mut self, role: Role, level: Decibels) -> Self {
        let (least, most) = role.bounds();
        if let (Some(slot), false) = (self.levels.get_mut(role.index()), level.0.is_nan()) {
            *slot = level.0.clamp(least, most);
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_role_keeps_to_its_bounds_and_leaves_the_others() {
        for role in Role::ALL {
            let (least, most) = role.bounds();
            let usual = Mix::default();
            assert_eq!(usual.with(role, Decibels(-200.0)).level(role), Decibels(least));
            assert_eq!(usual.with(role, Decibels(200.0)).level(role), Decibels(most));
            assert_eq!(usual.with(role, Decibels(f64::NAN)), usual);
            let moved = usual.with(role, Decibels(-3.0));
            for other in Role::ALL {
                assert_eq!(moved.level(other).0, if other == role { -3.0 } else { 0.0 });
            }
        }
    }
}
