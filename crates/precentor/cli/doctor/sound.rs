//! Sound devices.

use device::{DeviceInfo, Survey};

use super::{CheckUp, DeviceOutput};

/// Asks for devices while nothing may write to the terminal: some sound libraries complain there on their own.
pub(super) fn survey() -> Survey {
    let silenced = Silence::begin();
    let survey = device::devices();
    drop(silenced);
    survey
}

pub(super) fn checks(survey: &Survey) -> Vec<CheckUp> {
    let described = |device: &DeviceInfo| {
        let rates: Vec<String> = device.rates.iter().map(ToString::to_string).collect();
        let rates = if rates.is_empty() { "rates unknown".to_owned() } else { format!("{} Hz", rates.join(", ")) };
        let default = if device.default { ", the default" } else { "" };
        format!("{} through {} ({rates}, {} channels{default})", device.name, device.host, device.channels)
    };
    let mut troubles = survey.troubles.iter().map(|trouble| trouble.split_once("; ").unwrap_or((trouble, "see the documentation")));
    if survey.devices.is_empty() {
        let found = troubles.next().unwrap_or(("no device to play on was found", "plug in or switch on a loudspeaker, then look again"));
        return vec![CheckUp::bad("sound", format!("{}; the console runs on a silent clock", found.0), found.1)];
    }
    let mut checks: Vec<_> = survey.devices.iter().map(|device| CheckUp::ok("sound", described(device))).collect();
    checks.extend(troubles.map(|(found, mend)| CheckUp::weak("sound", found, mend)));
    checks
}

pub(super) fn devices(survey: Survey) -> Vec<DeviceOutput> {
    let output = |device: DeviceInfo| DeviceOutput {
        host: device.host,
        id: device.id,
        name: device.name,
        default: device.default,
        rates: device.rates,
        channels: device.channels,
    };
    survey.devices.into_iter().map(output).collect()
}

/// While this lives, the standard error output goes nowhere.
#[cfg(unix)]
pub(super) struct Silence(Option<std::os::fd::OwnedFd>);

#[cfg(unix)]
impl Silence {
    pub(super) fn begin() -> Self {
        let begin = || {
            let before = rustix::io::dup(rustix::stdio::stderr()).ok()?;
            let nowhere = std::fs::File::options().write(true).open("/dev/null").ok()?;
            rustix::stdio::dup2_stderr(nowhere).ok()?;
            Some(before)
        };
        Self(begin())
    }
}

#[cfg(unix)]
impl Drop for Silence {
    fn drop(&mut self) {
        if let Some(before) = self.0.take() {
            // if even this fails, there is nowhere to say so
            let _ = rustix::stdio::dup2_stderr(before);
        }
    }
}

#[cfg(not(unix))]
pub(super) struct Silence;

#[cfg(not(unix))]
impl Silence {
    pub(super) fn begin() -> Self {
        Self
    }
}

#[cfg(test)]
mod tests {
    use super::super::Health;
    use super::*;

    fn device() -> DeviceInfo {
        DeviceInfo {
            host: "Host".to_owned(),
            id: "host:1".to_owned(),
            name: "Loudspeaker".to_owned(),
            default: true,
            rates: vec![48_000, 44_100],
            channels: 2,
        }
    }

    #[test]
    fn a_device_is_enough_and_troubles_beside_it_are_small() {
        let survey = Survey { devices: vec![device()], troubles: vec!["Other: it does not answer; start it".to_owned()] };
        let checks = checks(&survey);
        assert_eq!(checks[0], CheckUp::ok("sound", "Loudspeaker through Host (48000, 44100 Hz, 2 channels, the default)"));
        assert_eq!(checks[1], CheckUp::weak("sound", "Other: it does not answer", "start it"));
    }

    #[test]
    fn no_device_is_bad_and_mended() {
        let checks = checks(&Survey::default());
        assert_eq!((checks.len(), checks[0].state), (1, Health::Bad));
        assert!(checks[0].mend.is_some());
    }
}
