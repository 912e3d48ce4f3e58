//! MIDI pedals and switches: every port of the machine is listened to, and looked for again once a second.

use super::arrivals::Inlet;

#[cfg(feature = "midi")]
use ports::Ports;
#[cfg(feature = "midi")]
pub use ports::names;

/// Why there is no MIDI.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct NoMidi(pub(crate) String);

/// Listens from now on, for as long as somebody takes what comes out of `inlet`'s channel.
pub fn listen(inlet: Inlet) {
    #[cfg(feature = "midi")]
    std::thread::spawn(move || {
        let mut ports = Ports::default();
        while ports.look(&inlet) {
            std::thread::sleep(ports::LOOK);
        }
    });
    #[cfg(not(feature = "midi"))]
    drop(inlet);
}

/// The names of the ports that are there now.
///
/// # Errors
/// [`NoMidi`]: this program was built without, or the system has none.
#[cfg(not(feature = "midi"))]
pub fn names() -> Result<Vec<String>, NoMidi> {
    Err(NoMidi("this program was built without MIDI".to_owned()))
}

#[cfg(feature = "midi")]
mod ports {
    use midir::{Ignore, MidiInput, MidiInputConnection, MidiInputPort};
    use std::sync::Arc;
    use std::time::Duration;

    use super::NoMidi;
    use crate::inputs::Signal;
    use crate::inputs::arrivals::{Arrived, Inlet};

    /// How often ports are looked for: no system tells of a pedal that was pulled out.
    pub(super) const LOOK: Duration = Duration::from_secs(1);
    /// What the system calls us.
    const CLIENT: &str = "precentor";
    /// A port of Linux that only hands on what programs send into it: no pedal.
    const THROUGH: &str = "Midi Through";

    /// The ports that are listened to.
    #[derive(Default)]
    pub struct Ports {
        /// Looks for ports; nothing while the system has no MIDI.
        looker: Option<MidiInput>,
        open: Vec<Open>,
        /// How many looks to pass over after one that found no MIDI at all.
        rest: u8,
    }

    /// One that is listened to, for as long as it lives.
    struct Open {
        id: String,
        name: Arc<str>,
        connection: MidiInputConnection<()>,
    }

    impl Ports {
        /// Listens to what is new and lets go of what is gone, and tells both; false once nobody listens to us.
        pub(super) fn look(&mut self, inlet: &Inlet) -> bool {
            let found = self.found();
            let mut heard = true;
            for gone in self.open.extract_if(.., |open| !found.iter().any(|(port, _)| port.id() == open.id)) {
                gone.connection.close();
                heard &= inlet.put(Arrived::Went(gone.name));
            }
            for (port, name) in &found {
                if self.open.iter().any(|open| open.id == port.id()) {
                    continue;
                }
                // one that cannot be opened now is tried again at the next look
                if let Some(open) = open(port, name, inlet) {
                    heard &= inlet.put(Arrived::Came(Arc::clone(&open.name)));
                    self.open.push(open);
                }
            }
            heard
        }

        fn found(&mut self) -> Vec<(MidiInputPort, String)> {
            if self.looker.is_none() && self.rest == 0 {
                self.looker = looker().ok();
                self.rest = 5;
            }
            self.rest = self.rest.saturating_sub(1);
            self.looker.as_ref().map(found).unwrap_or_default()
        }
    }

    fn open(port: &MidiInputPort, name: &str, inlet: &Inlet) -> Option<Open> {
        let mut input = looker().ok()?;
        // clocks and the like would only wake us
        input.ignore(Ignore::All);
        let name: Arc<str> = Arc::from(name);
        let (inlet, from) = (inlet.clone(), Arc::clone(&name));
        let hear = move |_: u64, message: &[u8], (): &mut ()| {
            if let Some(signal) = Signal::of_midi(message) {
                inlet.put(Arrived::Midi { signal, port: Arc::clone(&from) });
            }
        };
        let connection = input.connect(port, "pedals", hear, ()).ok()?;
        Some(Open { id: port.id(), name, connection })
    }

    fn found(looker: &MidiInput) -> Vec<(MidiInputPort, String)> {
        let named = looker.ports().into_iter().filter_map(|port| Some((port.clone(), looker.port_name(&port).ok()?)));
        named.filter(|(_, name)| !name.starts_with(THROUGH)).collect()
    }

    fn looker() -> Result<MidiInput, NoMidi> {
        // without this the library complains on stderr each time
        #[cfg(all(target_os = "linux", not(feature = "jack")))]
        if !std::path::Path::new("/dev/snd/seq").exists() {
            return Err(NoMidi("this system has no MIDI".to_owned()));
        }
        MidiInput::new(CLIENT).map_err(|error| NoMidi(error.to_string()))
    }

    /// The names of the ports that are there now.
    ///
    /// # Errors
    /// [`NoMidi`]: the system has none.
    pub fn names() -> Result<Vec<String>, NoMidi> {
        Ok(found(&looker()?).into_iter().map(|(_, name)| name).collect())
    }
}
