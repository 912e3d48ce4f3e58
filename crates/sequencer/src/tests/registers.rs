//! In which octaves a drone sounds.

use super::room;
use crate::{Drone, Registers};

fn doubled(root: &str) -> Drone {
    Drone { root: root.parse().unwrap(), registers: Registers::Room, ..room().drone }
}

#[test]
fn every_section_finds_the_root_among_its_comfortable_notes_where_there_is_one() {
    let room = room();
    for root in ["Bb3", "F3", "C4", "Bb4", "G2"] {
        let drone = doubled(root);
        let tuned = drone.tuned(&room);
        let home = drone.root.semitone();
        for section in &room.sections {
            let (low, high) = section.comfortable_semitones();
            let reachable = (-2..=2).any(|octave| (low..=high).contains(&(home + 12 * octave)));
            let found = tuned.iter().any(|tone| tone.semitones % 12 == 0 && (low..=high).contains(&(home + tone.semitones)));
            assert_eq!(found, reachable, "{} over {root}: {tuned:?}", section.name);
        }
    }
}

#[test]
fn the_stack_stays_and_further_octaves_are_exact() {
    let (room, drone) = (room(), doubled("Bb3"));
    let tuned = drone.tuned(&room);
    let plain = Drone { registers: Registers::Stack, ..drone.clone() }.tuned(&room);
    assert_eq!(tuned[..plain.len()], plain[..]);
    assert!(tuned.len() > plain.len() && tuned.len() <= Drone::MAX_TONES);
    for tone in &tuned {
        let (upper, lower) = tone.ratio.unwrap();
        let just = drone.root_frequency(&room).hz() * f64::from(upper) / f64::from(lower);
        assert!((tone.frequency.hz() - just).abs() < 1e-9);
    }
    let mut notes: Vec<i32> = tuned.iter().map(|tone| tone.semitones).collect();
    notes.sort_unstable();
    notes.dedup();
    assert_eq!(notes.len(), tuned.len(), "no note sounds twice");
}
