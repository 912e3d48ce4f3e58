//! The speaking voice.

use engine::speech::Pack;
use units::SampleRate;

use super::CheckUp;

/// Decodes the whole voice and looks for every word a plan may ask for.
pub(super) fn check() -> CheckUp {
    const MEND: &str = "install the program again; its voice is built in";
    let pack = match Pack::builtin() {
        Ok(pack) => pack,
        Err(error) => return CheckUp::bad("voice", error.to_string(), MEND),
    };
    let missing: Vec<_> = sequencer::words::vocabulary().into_iter().filter(|word| pack.index_of(word).is_none()).collect();
    if !missing.is_empty() {
        return CheckUp::bad("voice", format!("it cannot say {}", missing.join(", ")), MEND);
    }
    match pack.decode(SampleRate::DEFAULT) {
        Ok(clips) => CheckUp::ok("voice", format!("{} words in {} recordings, all sound", pack.words().count(), clips.len())),
        Err(error) => CheckUp::bad("voice", error.to_string(), MEND),
    }
}
