//! MIDI pedals and switches, and what the teacher bound.

use super::CheckUp;
use crate::folders::Folders;
use crate::inputs::Bindings;
use crate::inputs::midi;

pub(super) fn checks() -> Vec<CheckUp> {
    let midi = match midi::names() {
        Ok(names) if names.is_empty() => "no pedal or switch is connected; pedals that act as keyboards need none of this".to_owned(),
        Ok(names) => names.join(", "),
        Err(why) => format!("{why}; pedals that act as keyboards need none of this"),
    };
    let bound = Folders::find().ok().map(|folders| folders.inputs()).filter(|path| path.exists()).map(|path| {
        let name = path.display().to_string();
        let (own, faults) = match book::read_file(&path) {
            Ok(text) => Bindings::read(&name, &text),
            Err(faults) => (Bindings::default(), Some(faults)),
        };
        match faults {
            None => CheckUp::ok("bindings", format!("{name}: {} of your own", own.all().count())),
            Some(_) => CheckUp::weak("bindings", format!("{name} has faults; the rest of it counts"), format!("precentor check {name}")),
        }
    });
    std::iter::once(CheckUp::ok("midi", midi)).chain(bound).collect()
}
