//! Whether loudspeaker and microphone keep the same time.
//!
//! A sound system does not tell. What can be known is whether both belong to one card, by their ids; a card has one clock for both ways, as
//! a rule (common practice, no source). What counts in the end is the ratio measured.

/// What is known of two clocks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clocks {
    /// Both belong to one card: they should not drift apart.
    One,
    /// They belong to two cards: they drift apart, by some 10 to 100 millionths as a rule.
    Two,
    /// The ids do not tell.
    Unknown,
}

impl Clocks {
    /// Of an output and an input by their ids, as [`crate::Status::id`] and [`crate::Listening::id`] have them.
    #[must_use]
    pub fn of(output: &str, input: &str) -> Self {
        if input.strip_suffix(".monitor") == Some(output) {
            return Self::One;
        }
        match (card(output), card(input)) {
            (Some(output), Some(input)) if output == input => Self::One,
            (Some(_), Some(_)) => Self::Two,
            _ => Self::Unknown,
        }
    }
}

/// The card in an id: `alsa_output.CARD.PROFILE` of a sound server, `hw:CARD=NAME,DEV=0` of ALSA.
fn card(id: &str) -> Option<&str> {
    let (_, id) = id.split_once(':')?;
    if let Some((_, card)) = id.split_once("CARD=") {
        return card.split(',').next();
    }
    let id = id.strip_suffix(".monitor").unwrap_or(id);
    let stem = ["alsa_output.", "alsa_input.", "bluez_output.", "bluez_input."].iter().find_map(|head| id.strip_prefix(head))?;
    stem.rsplit_once('.').map(|(card, _)| card)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_ways_of_one_card_keep_one_time() {
        let laptop = "pulseaudio:alsa_output.pci-0000_00_1f.3.analog-stereo";
        let usb = "pulseaudio:alsa_input.usb-Some_Microphone-00.mono-fallback";
        for (output, input, clocks) in [
            (laptop, "pulseaudio:alsa_input.pci-0000_00_1f.3.analog-stereo", Clocks::One),
            (laptop, usb, Clocks::Two),
            (laptop, "pulseaudio:alsa_output.pci-0000_00_1f.3.analog-stereo.monitor", Clocks::One),
            ("pulseaudio:room", "pulseaudio:room.monitor", Clocks::One),
            ("pulseaudio:room", "pulseaudio:mic", Clocks::Unknown),
            (laptop, "pulseaudio:mic", Clocks::Unknown),
            ("alsa:hw:CARD=PCH,DEV=0", "alsa:hw:CARD=PCH,DEV=2", Clocks::One),
            ("alsa:hw:CARD=PCH,DEV=0", "alsa:plughw:CARD=Mic,DEV=0", Clocks::Two),
            ("alsa:default", "alsa:default", Clocks::Unknown),
            ("", "", Clocks::Unknown),
        ] {
            assert_eq!(Clocks::of(output, input), clocks, "{output} {input}");
        }
    }
}
