//! The demo room, drills, piece and lesson, and the schemas checked in.

use std::fs;
use std::time::Duration;

use super::{at, json, validator};
use pitch::Instrument;
use sequencer::lesson::Progress;
use sequencer::plan::Part;
use sequencer::{Hour, SectionIndex, TurnKind};

#[test]
fn checked_in_schemas_are_those_the_reader_checks_by() {
    use book::schema::{drill, inputs, lesson, piece, room};
    for (name, made) in [("room", room()), ("drill", drill()), ("piece", piece()), ("lesson", lesson()), ("inputs", inputs())] {
        let path = at(&format!("schemas/{name}.schema.json"));
        if std::env::var_os("UPDATE_SCHEMAS").is_some() {
            fs::write(&path, &made).unwrap();
        }
        let kept = fs::read_to_string(&path).unwrap_or_default();
        assert!(kept == made, "{} is out of date; run the tests once with UPDATE_SCHEMAS=1 set", path.display());
    }
}

#[test]
fn schemas_are_schemas() {
    use book::schema::{drill, inputs, lesson, piece, room};
    for made in [room(), drill(), piece(), lesson(), inputs()] {
        let schema: serde_json::Value = serde_json::from_str(&made).unwrap();
        assert!(jsonschema::meta::is_valid(&schema), "{made}");
    }
}

#[test]
fn shipped_files_please_reader_and_schema() {
    let mut names: Vec<_> = fs::read_dir(at("examples")).unwrap().map(|entry| entry.unwrap().path()).collect();
    names.sort();
    let mut kinds = (0, 0, 0, 0);
    for path in &names {
        let text = book::read_file(path).unwrap();
        let schema = match book::load(path).unwrap_or_else(|faults| panic!("{faults}")) {
            book::Book::Room(_) => {
                kinds.0 += 1;
                book::schema::room()
            }
            book::Book::Drill(_) => {
                kinds.1 += 1;
                book::schema::drill()
            }
            book::Book::Piece(_) => {
                kinds.2 += 1;
                book::schema::piece()
            }
            book::Book::Lesson(lesson) => {
                let room = lesson.room(&mut |name| book::load_beside(path, name)).unwrap_or_else(|faults| panic!("{faults}")).unwrap();
                let lesson = lesson.within(&room, &mut |name| book::load_beside(path, name));
                assert!(lesson.faults().is_none(), "{:?}", lesson.faults());
                kinds.3 += 1;
                book::schema::lesson()
            }
        };
        let errors: Vec<_> = validator(&schema).iter_errors(&json(&text)).map(|error| error.to_string()).collect();
        assert!(errors.is_empty(), "{}: {errors:?}", path.display());
    }
    assert_eq!(kinds, (1, 5, 1, 1));
}

#[test]
fn the_demo_room_is_a_whole_band() {
    let room = book::demo::room();
    let seats: u16 = room.sections.iter().map(|section| section.seats.get()).sum();
    let mut kinds: Vec<&Instrument> = room.sections.iter().map(|section| section.instrument).collect();
    kinds.dedup();
    assert_eq!((room.sections.len(), kinds.len(), seats), (13, 13, 36));
    for section in &room.sections {
        assert!((2..=4).contains(&section.landmarks.len()), "{}", section.name);
        for landmark in &section.landmarks {
            assert!(section.comfortable.contains(*landmark), "{}: {landmark}", section.name);
        }
    }
}

#[test]
fn the_demo_lesson_fits_its_hour() {
    let lesson = book::demo::lesson();
    assert!(lesson.faults().is_none(), "{:?}", lesson.faults());
    let done: Vec<_> = lesson.items.iter().map(|item| item.item.as_ref().unwrap().work.word()).collect();
    assert_eq!(done, ["drone", "landmarks", "drill", "roll", "climb", "recheck", "talk"]);
    let Hour::Timed { starts, .. } = lesson.lesson.hour else { panic!("{:?}", lesson.lesson.hour) };
    let begun = starts.since_midnight();
    let clock = lesson.lesson.hour.clock(&lesson.slots(), &Progress { begun, ago: Duration::ZERO, item: 0, spent: &[] });
    assert_eq!((clock.behind, clock.proposal), (Duration::ZERO, None));
}

#[test]
fn demo_drills_compile_without_notices_in_every_way() {
    let room = book::demo::room();
    for drill in book::demo::drills() {
        let plan = drill.compile(&room).unwrap_or_else(|faults| panic!("{faults}"));
        assert_eq!(plan.notices, [], "{}", drill.file());
        let turns = |turn: TurnKind| plan.bars.iter().filter(|bar| bar.turn == turn).count();
        assert!(turns(TurnKind::Model) > 0 && turns(TurnKind::Model) == turns(TurnKind::Echo), "{}", drill.file());
        assert!(drill.in_turn(&room).is_ok());
        for (index, section) in room.indexed() {
            let has_notes = matches!(plan.parts[usize::from(index.0)], Part::Notes(_));
            assert_eq!(drill.roll(&room, index).is_ok(), has_notes, "{}, {}", drill.file(), section.name);
        }
    }
}

/// What a section reads in a drill, rests left out.
fn reads(drill: usize, section: &str) -> (String, String) {
    let room = book::demo::room();
    let plan = book::demo::drills()[drill].compile(&room).unwrap();
    let SectionIndex(index) = room.find(section).unwrap();
    let Part::Notes(notes) = &plan.parts[usize::from(index)] else { panic!("{section} has no notes") };
    let pitches = || notes.iter().filter_map(|note| note.pitch);
    let join = |names: Vec<String>| names.join(" ");
    (join(pitches().map(|pitch| pitch.written.to_string()).collect()), join(pitches().map(|pitch| pitch.concert.to_string()).collect()))
}

#[test]
fn horns_stand_a_fourth_below_the_band_on_the_middle_note() {
    assert_eq!(reads(0, "Horns"), ("G4".into(), "C4".into()));
    assert_eq!(reads(0, "Trumpets"), ("G4".into(), "F4".into()));
    assert_eq!(reads(0, "Trombones"), ("F3".into(), "F3".into()));
    assert_eq!(reads(1, "Horns"), ("G4".into(), "C4".into()));
    assert_eq!(reads(1, "Trumpets"), ("G4".into(), "F4".into()));
}

#[test]
fn everyone_reads_the_line_in_a_range_of_its_own() {
    assert_eq!(reads(2, "Trumpets").0, "C4 D4 E4 F4 G4 F4 E4 D4 C4");
    assert_eq!(reads(2, "Alto Saxes").0, "G4 A4 B4 C5 D5 C5 B4 A4 G4");
    assert_eq!(reads(2, "Tubas").0, "Bb1 C2 D2 Eb2 F2 Eb2 D2 C2 Bb1");
    assert_eq!(reads(2, "Horns").1, "Bb3 C4 D4 C4 Bb3 C4 D4 C4 Bb3");
    assert_eq!(reads(3, "Horns").0, "F4 G4 A4 G4 A4 F4");
}
