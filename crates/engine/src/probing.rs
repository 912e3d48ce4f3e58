//! Measuring with a known sound: what becomes of a probe that was asked for.

use units::FrameInstant;

/// What became of a probe.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Probing {
    /// It is on its way to the audio side.
    Asked,
    /// It sounds since this frame.
    Sounding {
        /// Its first frame, which is also where [`crate::Controls::sent`] has it.
        start: FrameInstant,
    },
    /// It sounded whole.
    Over {
        /// Its first frame.
        start: FrameInstant,
    },
    /// It was cut short: by a hush, a cue, a drone or the loss of the device.
    CutShort,
    /// It was not played, because something else sounds or a plan runs.
    Refused,
}

/// The audio side's: whether one sounds, and whether to the end.
#[derive(Debug, Default)]
pub(crate) struct Played {
    /// The number of its command, while it sounds.
    pub(crate) number: Option<u32>,
    pub(crate) cut: bool,
}

/// The control side's: the probe last asked for.
#[derive(Debug, Default)]
pub(crate) struct Asked {
    number: u32,
    state: Option<Probing>,
}

impl Asked {
    pub(crate) fn ask(&mut self, number: u32) {
        (self.number, self.state) = (number, Some(Probing::Asked));
    }

    pub(crate) const fn state(&self) -> Option<Probing> {
        self.state
    }

    /// Command `number` took hold at `at`.
    pub(crate) fn applied(&mut self, number: u32, at: FrameInstant) {
        self.become_if(number, Probing::Sounding { start: at });
    }

    /// Command `number` did not.
    pub(crate) fn refused(&mut self, number: u32) {
        self.become_if(number, Probing::Refused);
    }

    /// What command `number` began is over.
    pub(crate) fn over(&mut self, number: u32, whole: bool) {
        let over = match self.state {
            Some(Probing::Sounding { start }) if whole => Probing::Over { start },
            _ => Probing::CutShort,
        };
        self.become_if(number, over);
    }

    fn become_if(&mut self, number: u32, state: Probing) {
        if self.state.is_some() && number == self.number {
            self.state = Some(state);
        }
    }
}
