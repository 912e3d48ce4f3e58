//! What has no notes to lay out: a drone held for a while, something to talk about.

use units::{Beats, Tempo};

use super::builder::{Builder, StationHead};
use super::parts::Parts;
use super::{CompileError, listening_tempo};
use crate::plan::{Follow, Plan, PlanKind, TurnKind};
use crate::{Drone, Meter, Room};

/// A drone held for `minutes`, or until the director goes on.
///
/// # Errors
/// If it would last over a day.
pub fn hold(room: &Room, drone: &Drone, minutes: Option<f64>) -> Result<Plan, CompileError> {
    let tempo = Tempo::new(60.0).unwrap_or_else(|_| listening_tempo());
    let title = format!("Drone {}", drone.root);
    let mut builder = Builder::new(PlanKind::Hold, title.clone(), tempo, Meter::COMMON, false);
    builder.hold(drone.clone());
    builder.station(StationHead { label: title, sections: room.everyone(), seat: None });
    // a bar a second long, each a round, so that it ends on its second, can be left at any, and goes on from there after a hush
    let seconds = minutes.map_or(1.0, |minutes| (minutes * 60.0).ceil().max(1.0));
    for second in 0..seconds.min(super::MAX_BARS as f64 + 1.0) as usize {
        builder.round();
        builder.bar(TurnKind::Hold, room.everyone());
        if let Some(bar) = builder.last() {
            bar.length = Beats::whole(1);
            bar.opens_turn = second == 0;
        }
    }
    let mut plan = builder.finish(Parts::none(room))?;
    if minutes.is_none()
        && let Some(bar) = plan.bars.first_mut()
    {
        bar.follow = Follow::Jump(0);
    }
    Ok(plan)
}

/// Something to talk about: the plan waits for the director.
///
/// # Errors
/// None is known.
pub fn talk(room: &Room, note: &str) -> Result<Plan, CompileError> {
    let mut builder = Builder::new(PlanKind::Talk, note.to_owned(), listening_tempo(), Meter::COMMON, false);
    builder.station(StationHead { label: note.to_owned(), sections: room.everyone(), seat: None });
    builder.round();
    builder.wait(TurnKind::Talk, room.everyone(), note.to_owned());
    builder.finish(Parts::none(room))
}
