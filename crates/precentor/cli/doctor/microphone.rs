//! The microphone: listened to for a second. Only its level is taken; nothing is kept.

use device::{Capture, CaptureEvent, Level, Wanted};
use std::thread;
use std::time::{Duration, Instant};
use units::{Decibels, SampleRate};

use super::CheckUp;
use super::sound::Silence;

/// Longest wait until it is open, and then until it gives sound.
const OPENING: Duration = Duration::from_secs(4);
const COMING: Duration = Duration::from_secs(2);
/// How long it is listened to.
const LISTENING: Duration = Duration::from_secs(1);
const FETCH: Duration = Duration::from_millis(20);
const FRAMES: u32 = 1024;
/// Under this peak it hears next to nothing: a quiet room's noise through an ordinary microphone is louder (common practice, no source).
const FAINT: Decibels = Decibels(-75.0);

/// What was heard of an open microphone.
struct Heard {
    device: String,
    host: String,
    rate: SampleRate,
    /// The loudest level of the second; none if no frame came.
    level: Option<Level>,
}

pub(super) fn check() -> CheckUp {
    let silenced = Silence::begin();
    let heard = listen();
    drop(silenced);
    told(heard)
}

/// Opens the usual microphone and listens; else why not, and the mend.
fn listen() -> Result<Heard, (String, String)> {
    let capture = Capture::start(Wanted::Default, SampleRate::DEFAULT, FRAMES);
    let heard = match capture.events().recv_timeout(OPENING) {
        Ok(CaptureEvent::Listening(mut listening)) => {
            let sound = &mut listening.sound;
            let (start, mut samples, mut level) = (Instant::now(), Vec::new(), None::<Level>);
            let mut since = None::<Instant>;
            while since.map_or(start.elapsed() < COMING, |since| since.elapsed() < LISTENING) {
                thread::sleep(FETCH);
                sound.read(&mut samples);
                samples.clear();
                let now = sound.level();
                since = since.or(now.map(|_| Instant::now()));
                if let (Some(now), Some(most)) = (now, &mut level) {
                    *most = Level { peak: Decibels(most.peak.0.max(now.peak.0)), rms: Decibels(most.rms.0.max(now.rms.0)) };
                }
                level = level.or(now);
            }
            Ok(Heard { device: listening.device, host: listening.host, rate: sound.rate(), level })
        }
        Ok(CaptureEvent::Refused { why, mend }) => Err((why, mend)),
        Ok(CaptureEvent::Lost { why }) => Err((why, "plug it in again".to_owned())),
        Err(_) => Err((
            "the microphone does not answer".to_owned(),
            "choose another in the system's sound settings, or restart the sound server".to_owned(),
        )),
    };
    capture.stop();
    heard
}

/// A class can be led without a microphone, so none of this is bad.
fn told(heard: Result<Heard, (String, String)>) -> CheckUp {
    const NAME: &str = "microphone";
    let Heard { device, host, rate, level } = match heard {
        Ok(heard) => heard,
        Err((why, mend)) => return CheckUp::weak(NAME, format!("{why}; nobody is heard, all else works"), mend),
    };
    let place = format!("{device} through {host} at {} Hz", rate.hz());
    match level {
        None => {
            CheckUp::weak(NAME, format!("{place} gives no sound"), "switch it on in the system's sound settings, or choose another there")
        }
        Some(level) if level.peak <= device::level::NOTHING => CheckUp::weak(
            NAME,
            format!("{place} gives nothing but zeros: it is muted, or the system does not let this program hear it"),
            "unmute it in the system's sound settings, and allow it in the privacy settings",
        ),
        Some(level) => {
            let found = format!("{place}: peak {:.0}, mean {:.0} dB under its full scale", -level.peak.0, -level.rms.0);
            if level.clips() {
                CheckUp::weak(NAME, format!("{found}; it is overdriven"), "turn its gain down in the system's sound settings")
            } else if level.peak < FAINT {
                CheckUp::weak(
                    NAME,
                    format!("{found}; it hears next to nothing"),
                    "clap beside it and look again; then turn its gain up, or choose another in the system's sound settings",
                )
            } else {
                CheckUp::ok(NAME, format!("{found}; it hears something"))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::Health;
    use super::*;

    fn of(peak: f64) -> CheckUp {
        let level = Some(Level { peak: Decibels(peak), rms: Decibels(peak - 12.0) });
        told(Ok(Heard { device: "Desk microphone".to_owned(), host: "Host".to_owned(), rate: SampleRate::DEFAULT, level }))
    }

    #[test]
    fn what_it_hears_is_told_with_its_mend() {
        let ok = of(-30.0);
        assert_eq!(ok.state, Health::Ok);
        assert_eq!(ok.found, "Desk microphone through Host at 48000 Hz: peak 30, mean 42 dB under its full scale; it hears something");
        for (peak, says) in [(0.0, "overdriven"), (-80.0, "next to nothing"), (-200.0, "nothing but zeros")] {
            let check = of(peak);
            assert!(check.state == Health::Weak && check.found.contains(says) && check.mend.is_some(), "{check:?}");
        }
        let none = told(Err(("there is no microphone".to_owned(), "plug one in".to_owned())));
        assert_eq!((none.state, none.mend.as_deref()), (Health::Weak, Some("plug one in")));
        let deaf = Heard { device: "Desk".to_owned(), host: "Host".to_owned(), rate: SampleRate::DEFAULT, level: None };
        assert!(told(Ok(deaf)).found.contains("gives no sound"));
        assert!(![of(-30.0), of(0.0), of(-80.0)].iter().any(|check| check.found.contains("dBA")));
    }
}
