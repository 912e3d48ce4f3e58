//! Sound: kept only for its days, found again, and gone with its record.

use jiff::Timestamp;
use units::SampleRate;

use super::{desk, holds, moment, of_horns, of_seat, seat};
use crate::{AudioError, Clip, ClipOf, Counts, Days, Echo, Filter, KeptAudio, Sound, Store, Verdict, Writer};

/// The letters "ECHO" as 16-bit samples, again and again, so that their bytes can be looked for.
fn sound(days: u16) -> Sound {
    let letters = [i16::from_le_bytes(*b"EC"), i16::from_le_bytes(*b"HO")];
    // half a step more, so that what is cut off gives the letter back
    let samples = letters.iter().cycle().take(4_800).map(|letter| (f32::from(*letter) + 0.5) / f32::from(i16::MAX));
    Sound { rate: SampleRate::new(16_000).unwrap(), samples: samples.collect(), days: Days::new(days).unwrap() }
}

#[test]
fn sound_is_kept_for_its_days_and_not_longer() {
    let (folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    let audio = store.audio();
    let now = moment("2031-02-03T09:15:00Z");
    assert_eq!(audio.clips().unwrap(), []);
    assert!(!audio.folder().exists(), "looking makes nothing");
    let seat = ClipOf::Verdict(store.keep(&of_seat(1, Verdict::Low), None).unwrap());
    let section = ClipOf::Section(store.keep_section(&of_horns(0.5, 0.5), None).unwrap());
    audio.keep(section, &sound(14), now).unwrap();
    let kept = audio.keep(seat, &sound(1), now).unwrap();
    assert_eq!(kept.until, moment("2031-02-04T09:15:00Z"));
    let clips = audio.clips().unwrap();
    assert_eq!(clips.iter().map(|clip| clip.of).collect::<Vec<_>>(), [seat, section], "what goes first comes first");
    assert_eq!((&clips[0], clips[0].bytes), (&kept, 44 + 2 * 4_800));
    let read: Vec<i16> = hound::WavReader::open(&kept.path).unwrap().into_samples().map(Result::unwrap).collect();
    assert_eq!((read.len(), &read[..2]), (4_800, &[i16::from_le_bytes(*b"EC"), i16::from_le_bytes(*b"HO")][..]));
    assert!(holds(folder.path(), b"ECHO"));
    assert_eq!(audio.sweep(moment("2031-02-04T09:14:59Z")).unwrap(), 0);
    assert_eq!(audio.sweep(moment("2031-02-04T09:15:00Z")).unwrap(), 1);
    assert_eq!(audio.sweep(moment("2031-02-17T09:15:00Z")).unwrap(), 1);
    assert!(!holds(folder.path(), b"ECHO"));
}

#[test]
fn the_newest_sound_of_a_record_is_the_one_that_is_kept() {
    let (_folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    let of = ClipOf::Verdict(store.keep(&of_seat(1, Verdict::Low), None).unwrap());
    let audio = store.audio();
    for days in [2, 3, 3] {
        audio.keep(of, &sound(days), moment("2031-02-03T09:15:00Z")).unwrap();
    }
    assert_eq!(audio.clips().unwrap().iter().map(|clip| clip.until).collect::<Vec<_>>(), [moment("2031-02-06T09:15:00Z")]);
}

#[test]
fn sound_beyond_full_scale_is_cut_and_what_is_no_number_is_silence() {
    let (_folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    let of = ClipOf::Verdict(store.keep(&of_seat(1, Verdict::Low), None).unwrap());
    let wild = Sound { samples: vec![2.0, -1e30, f32::NAN, f32::INFINITY, 0.5], ..sound(1) };
    let clip = store.audio().keep(of, &wild, Timestamp::now()).unwrap();
    let read: Vec<i16> = hound::WavReader::open(clip.path).unwrap().into_samples().map(Result::unwrap).collect();
    assert_eq!(read, [i16::MAX, i16::MIN, 0, i16::MAX, 16_383]);
}

#[test]
fn a_forgotten_seat_takes_its_sound_along_and_no_other() {
    let (folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    let audio = store.audio();
    let mut ids = Vec::new();
    for number in 1..=3 {
        let of = ClipOf::Verdict(store.keep(&of_seat(number, Verdict::Low), None).unwrap());
        audio.keep(of, &sound(14), Timestamp::now()).unwrap();
        ids.push(of);
    }
    let second = Filter { seat: seat(2), ..Filter::default() };
    let meant = Counts { verdicts: 1, sections: 0, clips: 1 };
    assert_eq!((store.count(&second).unwrap(), store.forget(&second).unwrap()), (meant, meant));
    assert_eq!(audio.clips().unwrap().iter().map(|clip| clip.of).collect::<Vec<_>>(), [ids[0], ids[2]]);
    assert_eq!(store.forget(&Filter::default()).unwrap(), Counts { verdicts: 2, sections: 0, clips: 2 });
    assert!(!holds(folder.path(), b"ECHO"));
}

#[test]
fn the_writer_keeps_sound_with_its_record_and_never_without() {
    let (_folder, path) = desk();
    let writer = Writer::start(path.clone()).unwrap();
    writer.note(Echo(1), of_seat(1, Verdict::Low));
    writer.keep_sound(Echo(1), sound(14));
    writer.note_section(Echo(2), of_horns(0.5, 0.5));
    writer.keep_sound(Echo(2), sound(14));
    // of nothing that was noted
    writer.keep_sound(Echo(3), sound(14));
    assert_eq!(writer.end(), None);
    let store = Store::open(&path).unwrap();
    let kept = store.audio().clips().unwrap();
    assert!(matches!(kept.as_slice(), [Clip { of: ClipOf::Section(_), .. }, Clip { of: ClipOf::Verdict(_), .. }]), "{kept:?}");
    assert_eq!(store.sweep_audio().unwrap(), 0, "both have their records");
}

#[test]
fn every_start_deletes_what_is_over_and_what_lost_its_records() {
    let (folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    let audio = KeptAudio::beside(&path);
    let id = ClipOf::Verdict(store.keep(&of_seat(1, Verdict::Low), None).unwrap());
    let other = ClipOf::Verdict(store.keep(&of_seat(2, Verdict::Low), None).unwrap());
    audio.keep(id, &sound(1), moment("2031-02-03T09:15:00Z")).unwrap();
    let long_ago = Timestamp::now().saturating_sub(jiff::SignedDuration::from_hours(25)).unwrap();
    audio.keep(other, &sound(1), long_ago).unwrap();
    drop(store);
    drop(Writer::start(path.clone()).unwrap());
    assert_eq!(audio.clips().unwrap().iter().map(|clip| clip.of).collect::<Vec<_>>(), [id], "the year 2031 is yet to come");
    // the user deletes the records: their sound goes with them
    std::fs::write(audio.folder().join("notes.txt"), "mine").unwrap();
    for entry in std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().path()).filter(|path| path.is_file()) {
        std::fs::remove_file(entry).unwrap();
    }
    drop(Writer::start(path).unwrap());
    assert!(!holds(folder.path(), b"ECHO"));
    assert!(audio.folder().join("notes.txt").exists(), "what is not ours stays");
}

#[test]
fn sound_that_cannot_be_kept_is_told_and_the_verdict_is_kept() {
    let (_folder, path) = desk();
    std::fs::write(KeptAudio::beside(&path).folder(), "a file in the way").unwrap();
    let writer = Writer::start(path.clone()).unwrap();
    writer.note(Echo(1), of_seat(1, Verdict::Low));
    writer.keep_sound(Echo(1), sound(14));
    writer.note(Echo(2), of_seat(2, Verdict::Low));
    let end = std::time::Instant::now() + std::time::Duration::from_secs(20);
    while writer.kept() < 2 {
        assert!(std::time::Instant::now() < end, "it never came");
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    let told = writer.told().unwrap();
    assert!(told.contains("sound") && told.contains("allow yourself"), "{told}");
    assert_eq!(writer.end(), None);
    assert_eq!(Store::open(&path).unwrap().records(&Filter::default()).unwrap().len(), 2);
}

#[test]
fn more_sound_than_the_disk_takes_is_told_and_dropped() {
    let (_folder, path) = desk();
    // nothing gets onto the disk while another holds it
    drop(Store::open(&path).unwrap());
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let writer = Writer::start(path.clone()).unwrap();
    let minute = Sound { samples: vec![0.0; 4 << 20], ..sound(14) };
    writer.note(Echo(1), of_seat(1, Verdict::Low));
    for _ in 0..5 {
        writer.keep_sound(Echo(1), minute.clone());
    }
    assert_eq!(writer.told().as_deref(), Some("The sound of this echo is not kept: minutes of it wait for the disk already."));
    other.execute_batch("COMMIT").unwrap();
    assert_eq!(writer.end(), None);
}

#[test]
fn days_are_few() {
    assert_eq!((Days::DEFAULT.get(), "30".parse::<Days>().unwrap().get()), (14, 30));
    for wrong in ["0", "91", "-1", "two", ""] {
        let error = wrong.parse::<Days>().unwrap_err().to_string();
        assert_eq!(error, "sound is kept for 1 to 90 days; name a number of days", "{wrong}");
    }
}

#[cfg(unix)]
#[test]
fn nobody_else_may_hear_it() {
    use std::os::unix::fs::PermissionsExt;
    let (_folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    let of = ClipOf::Verdict(store.keep(&of_seat(1, Verdict::Low), None).unwrap());
    let clip = store.audio().keep(of, &sound(1), Timestamp::now()).unwrap();
    let mode = |path: &std::path::Path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!((mode(store.audio().folder()), mode(&clip.path)), (0o700, 0o600));
}

#[test]
fn faults_name_the_file_and_the_mend() {
    let (_folder, path) = desk();
    let audio = KeptAudio::beside(&path);
    std::fs::write(audio.folder(), "a file in the way").unwrap();
    let error = audio.clips().unwrap_err();
    assert!(matches!(error, AudioError::List { .. }) && error.to_string().contains("allow yourself"), "{error}");
}
