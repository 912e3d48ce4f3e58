//! What is likelier to sound than the rest, once a note of a brass instrument was asked for: the partials of its fingering.

/// How far beside a partial a player still means it, in octaves: 50 cents, half of what separates the closest notes of a scale.
const BESIDE: f64 = 50.0 / 1200.0;
/// The partials a beginner lands on.
const PLAYED: std::ops::RangeInclusive<u8> = 2..=8;
/// What a pitch on a partial gains in strength: enough to choose among what noise leaves, too little against a clear note off the series.
const GAIN: f64 = 0.10;

/// The partials that are expected, or none.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Prior {
    /// Of the tube as it is fingered, in octaves above 1 Hz.
    fundamental: Option<f64>,
}

impl Prior {
    /// Expects the partials of a fundamental of `hz`.
    pub(crate) fn partials_of(hz: f64) -> Self {
        Self { fundamental: Some(hz.log2()) }
    }

    /// What a pitch of `hz` gains in strength.
    pub(crate) fn gain(&self, hz: f64) -> f64 {
        let Some(fundamental) = self.fundamental else { return 0.0 };
        let above = hz.log2() - fundamental;
        if PLAYED.into_iter().any(|partial| (above - f64::from(partial).log2()).abs() <= BESIDE) { GAIN } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn partials_two_to_eight_are_expected_and_what_lies_between_is_not() {
        let prior = Prior::partials_of(50.0);
        let gains = |hz: f64| prior.gain(hz) > 0.0;
        assert!((2..=8).all(|partial| gains(50.0 * f64::from(partial))));
        // 49 and 51 cents over the third
        assert!(gains(150.0 * (49.0_f64 / 1200.0).exp2()) && !gains(150.0 * (51.0_f64 / 1200.0).exp2()));
        assert!(!gains(50.0) && !gains(450.0) && !gains(120.0));
        assert_eq!(Prior::default().gain(100.0), 0.0);
    }
}
