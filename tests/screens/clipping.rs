//! What must be seen is seen whole, on every screen, at every size, in every look.

use precentor::inputs::{Place, table};
use precentor::view::facts::Facts;
use precentor::view::{LEAST, foot};

use super::Rig;
use super::rig::{LOOKS, SIZES, letters};

/// Every screen of the console, each reached by keys from a running drill.
const SCREENS: [(&str, &str); 20] = [
    ("stage", ""),
    ("room view", "v"),
    ("rooms", "r"),
    ("drills", "d"),
    ("drone", "o"),
    ("landmarks", "l"),
    ("roll", "e"),
    ("keys", "?"),
    ("commands", ":"),
    ("held", "h"),
    ("roll with ear", "e ENTER SPACE"),
    ("quit asked", "q"),
    ("learn", "i PGDN"),
    ("teach", "i PGDN TAB"),
    ("passages", "c"),
    ("lessons", "w"),
    ("climb", "c ENTER SPACE"),
    ("climb, room view", "c ENTER SPACE v"),
    ("lesson", "w ENTER SPACE"),
    ("items", "w ENTER SPACE a"),
];

#[test]
fn what_must_be_seen_is_seen_whole() {
    for (name, keys) in SCREENS {
        let mut rig = Rig::demo();
        rig.keys("SPACE");
        rig.until("the model", |state| state.pulse.beat == 2 && state.turn() == Some(sequencer::TurnKind::Model));
        if !keys.is_empty() {
            for key in keys.split(' ') {
                rig.press(super::rig::key(key));
                rig.idle();
            }
        }
        for (width, height) in SIZES {
            for look in LOOKS {
                let text = letters(&rig.buffer(width, height, look));
                let facts = Facts::of(&rig.state);
                let shortest = facts.next.last().unwrap();
                let mut needed = vec![facts.going.word, shortest.as_str(), " ESC  hush"];
                if !matches!(rig.state.place(), Place::Finder | Place::Learn) {
                    needed.push(" ?  keys");
                }
                if rig.state.quit_asked.is_some() {
                    needed.push(precentor::text::status::QUIT_AGAIN);
                }
                for needed in needed {
                    let seen = text.contains(needed) || (needed == facts.going.word && look.has_blocks() && text.contains("█"));
                    assert!(seen, "{name} at {width}x{height} in {look:?} does not show {needed:?} whole:\n{text}");
                }
            }
        }
    }
}

#[test]
fn the_states_word_stands_in_plain_letters_too() {
    let mut rig = Rig::demo();
    rig.keys("SPACE");
    for (width, height) in SIZES {
        for look in LOOKS {
            let text = letters(&rig.buffer(width, height, look));
            let word = Facts::of(&rig.state).going.word;
            assert!(text.contains(word), "{width}x{height} {look:?}:\n{text}");
        }
    }
}

#[test]
fn every_section_and_its_note_is_on_the_stage() {
    let mut rig = Rig::demo();
    rig.keys("SPACE");
    for (width, height) in SIZES {
        for look in LOOKS {
            let text = letters(&rig.buffer(width, height, look));
            for (name, note) in [("Flutes", "F5"), ("Horns", "G4"), ("Alto Saxes", "D5"), ("Tubas", "F2"), ("Mallets", "F5")] {
                let line = text.lines().find(|line| line.contains(&format!(" {name} ")));
                assert!(line.is_some_and(|line| line.contains(note)), "{name} {note} at {width}x{height} in {look:?}:\n{text}");
            }
        }
    }
}

#[test]
fn hints_go_whole_or_not_at_all_and_hush_is_first() {
    let mut rig = Rig::demo();
    rig.keys("SPACE");
    let hints = foot::hints(&rig.state);
    assert_eq!(hints[0].word, "hush");
    assert_eq!(hints[1].word, "keys");
    for width in LEAST.0..=160 {
        let text = letters(&rig.buffer(width, 24, LOOKS[0]));
        let last = text.lines().last().unwrap();
        let whole: String = hints.iter().map(|hint| format!(" {}  {}  ", hint.key, hint.word)).collect();
        assert!(whole.starts_with(last), "{width}: {last}");
        let shown = hints.iter().scan(String::new(), |line, hint| {
            line.push_str(&format!(" {}  {}  ", hint.key, hint.word));
            Some(line.trim_end().to_owned())
        });
        assert!(shown.into_iter().any(|line| line == last), "{width}: {last}");
    }
}

#[test]
fn a_window_too_small_says_both_sizes() {
    let rig = Rig::demo();
    let text = letters(&rig.buffer(59, 15, LOOKS[0])).replace('\n', " ");
    assert!(text.contains("59 columns by 15 rows") && text.contains("60 by 16"), "{text}");
    // even a window of a few cells is no panic
    for (width, height) in [(1, 1), (5, 3), (200, 1), (1, 100)] {
        let _ = rig.buffer(width, height, LOOKS[0]);
    }
}

#[test]
fn ascii_is_ascii() {
    let mut rig = Rig::demo();
    for (name, keys) in SCREENS {
        if !keys.is_empty() {
            rig.keys(keys);
        }
        let text = letters(&rig.buffer(80, 24, LOOKS[3]));
        assert!(text.is_ascii(), "{name}:\n{text}");
        rig.keys("ESC");
    }
}

#[test]
fn nothing_is_told_by_colour_alone() {
    // with and without colours a screen has the same letters; and the states differ in letters
    let mut rig = Rig::demo();
    rig.keys("SPACE");
    let mut seen = std::collections::BTreeMap::new();
    for _ in 0..1200 {
        rig.run(0.05);
        let Some(turn) = rig.state.turn() else { continue };
        let text = letters(&rig.buffer(80, 24, LOOKS[0]));
        assert_eq!(text, letters(&rig.buffer(80, 24, LOOKS[1])));
        let facts = Facts::of(&rig.state);
        seen.insert(turn.word(), (facts.going.word, facts.going.shape));
    }
    assert_eq!(seen.keys().copied().collect::<Vec<_>>(), ["breath", "call", "count", "echo", "model"]);
    let words: std::collections::BTreeSet<_> = seen.values().map(|(word, _)| word).collect();
    let shapes: std::collections::BTreeSet<_> = seen.values().map(|(_, shape)| shape).collect();
    assert_eq!((words.len(), shapes.len()), (5, 5));
}

#[test]
fn the_help_lists_every_command_of_the_stage() {
    let mut rig = Rig::demo();
    rig.keys("?");
    let mut listed = String::new();
    for _ in 0..table::entries(Place::Stage).count() {
        listed.push_str(&rig.text(160, 45));
        rig.press(super::rig::key("DOWN"));
    }
    for entry in table::entries(Place::Stage) {
        let lists = |line: &str| line.get(2..).is_some_and(|line| line.starts_with(entry.word)) && line.contains(entry.meaning);
        assert!(listed.lines().any(lists), "{}", entry.word);
    }
}
