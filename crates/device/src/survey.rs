//! Which devices there are, for a person who looks for one.

use std::time::Duration;

/// Longest wait for the sound systems.
pub const SURVEY_LIMIT: Duration = Duration::from_secs(2);
/// Rates worth naming where a device takes a whole range of them.
const COMMON_RATES: [u32; 6] = [48_000, 44_100, 96_000, 88_200, 32_000, 192_000];

/// An output device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DeviceInfo {
    /// The sound system it was found through.
    pub host: String,
    /// Its id, for [`crate::Wanted::Named`]; stays the same from day to day.
    pub id: String,
    /// The name people know it by; [`crate::Wanted::Named`] takes it too.
    pub name: String,
    /// Whether its sound system plays on it unless told otherwise.
    pub default: bool,
    /// The common sample rates it takes, the most suitable first; empty if it would not say.
    pub rates: Vec<u32>,
    /// The most channels it takes; zero if it would not say.
    pub channels: u16,
}

/// What was found in [`SURVEY_LIMIT`].
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Survey {
    /// In the order in which they would be tried.
    pub devices: Vec<DeviceInfo>,
    /// What went wrong with each sound system that did not answer, as a sentence with its mend.
    pub troubles: Vec<String>,
}

/// Looks for devices, for at most [`SURVEY_LIMIT`], even while a sound server hangs. Sound libraries may write to the standard error output.
#[must_use]
pub fn devices() -> Survey {
    survey()
}

#[cfg(not(feature = "sound"))]
fn survey() -> Survey {
    let error = crate::backend::OpenError::BuiltWithout;
    Survey { devices: Vec::new(), troubles: vec![format!("{error}; {}", error.mend())] }
}

/// The common rates within any of `ranges`; the first range's highest if none is.
pub(crate) fn common_rates(ranges: impl Iterator<Item = (u32, u32)>) -> Vec<u32> {
    let ranges: Vec<_> = ranges.collect();
    let offered = |rate: &u32| ranges.iter().any(|(low, high)| (low..=high).contains(&rate));
    let rates: Vec<_> = COMMON_RATES.into_iter().filter(offered).collect();
    if rates.is_empty() { ranges.first().map(|(_, high)| *high).into_iter().collect() } else { rates }
}

#[cfg(feature = "sound")]
use asking::survey;

#[cfg(feature = "sound")]
mod asking {
    use super::{DeviceInfo, SURVEY_LIMIT, Survey, common_rates};
    use crate::sound::{explain, is_last_resort};
    use cpal::traits::{DeviceTrait, HostTrait};
    use crossbeam_channel::{Sender, unbounded};
    use std::thread;
    use std::time::Instant;

    enum Finding {
        Device(DeviceInfo),
        Trouble(String),
        /// The host with this name is being asked.
        Asking(&'static str),
        End,
    }

    pub(super) fn survey() -> Survey {
        let mut survey = Survey::default();
        let deadline = Instant::now() + SURVEY_LIMIT;
        let (found, findings) = unbounded();
        if let Err(error) = thread::Builder::new().name("sound-survey".to_owned()).spawn(move || ask_all(&found)) {
            survey.troubles.push(format!("no thread could be started: {error}; close other programs"));
        }
        let mut asked = "the sound system";
        loop {
            match findings.recv_deadline(deadline) {
                Ok(Finding::Device(device)) => survey.devices.push(device),
                Ok(Finding::Trouble(trouble)) => survey.troubles.push(trouble),
                Ok(Finding::Asking(host)) => asked = host,
                Ok(Finding::End) => return survey,
                Err(error) => {
                    if error.is_timeout() {
                        survey.troubles.push(format!("{asked} does not answer; {}", crate::backend::OpenError::Hangs.mend()));
                    }
                    return survey;
                }
            }
        }
    }

    /// Sending fails only when nobody listens any more, and then there is nobody to tell.
    fn ask_all(found: &Sender<Finding>) {
        for id in cpal::available_hosts() {
            let _ = found.send(Finding::Asking(id.name()));
            if let Err(error) = ask(id, found) {
                let error = explain(&error, id.name());
                let _ = found.send(Finding::Trouble(format!("{}: {error}; {}", id.name(), error.mend())));
            }
        }
        let _ = found.send(Finding::End);
    }

    fn ask(id: cpal::HostId, found: &Sender<Finding>) -> Result<(), cpal::Error> {
        let host = cpal::host_from_id(id)?;
        let default = host.default_output_device().and_then(|device| device.id().ok());
        for device in host.devices()?.filter(DeviceTrait::supports_output) {
            let Ok(device_id) = device.id() else { continue };
            // ALSA lists every plug-in under a dozen names; the default and the cards themselves are what a person looks for
            if is_last_resort(id) && Some(&device_id) != default.as_ref() && !device_id.id().starts_with("hw:") {
                continue;
            }
            let ranges: Vec<_> = device.supported_output_configs().map(Iterator::collect).unwrap_or_default();
            let rates = common_rates(
                ranges.iter().map(|range: &cpal::SupportedStreamConfigRange| (range.min_sample_rate(), range.max_sample_rate())),
            );
            let info = DeviceInfo {
                host: id.name().to_owned(),
                id: device_id.to_string(),
                name: device.description().map_or_else(|_| device_id.id().to_owned(), |description| description.name().to_owned()),
                default: Some(&device_id) == default.as_ref(),
                rates,
                channels: ranges.iter().map(cpal::SupportedStreamConfigRange::channels).max().unwrap_or(0),
            };
            let _ = found.send(Finding::Device(info));
        }
        Ok(())
    }

    #[cfg(test)]
    mod tests {
        use super::*;

        #[test]
        fn a_range_is_told_by_its_common_rates() {
            assert_eq!(common_rates([(1, 48_000)].into_iter()), [48_000, 44_100, 32_000]);
            assert_eq!(common_rates([(44_100, 44_100)].into_iter()), [44_100]);
            assert_eq!(common_rates([(22_050, 22_050)].into_iter()), [22_050]);
            assert_eq!(common_rates(std::iter::empty()), [0; 0]);
        }
    }
}
