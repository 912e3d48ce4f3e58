//! Record: from a take to a folder, and a beat moved by hand.

use super::Desk;
use engine::speech::Pack;
use engine::speech::own::list::START;
use engine::speech::own::{Own, RATE};
use std::path::{Path, PathBuf};
use std::sync::LazyLock;
use units::SampleRate;

/// A take of these words in the built-in voice, `gap` seconds apart, as 48 kHz stereo.
fn take(path: &Path, words: &[&str], gap: f64) {
    let mut sound = silence(gap);
    for word in words {
        sound.extend(said(word));
        sound.extend(silence(gap));
    }
    write(path, &sound);
}

pub(crate) fn silence(seconds: f64) -> Vec<f32> {
    vec![0.0; (seconds * 48_000.0) as usize]
}

pub(crate) fn said(word: &str) -> Vec<f32> {
    static CLIPS: LazyLock<(Pack, Vec<synth::Clip>)> = LazyLock::new(|| {
        let pack = Pack::builtin().unwrap();
        let clips = pack.decode(SampleRate::DEFAULT).unwrap();
        (pack, clips)
    });
    let (pack, clips) = &*CLIPS;
    let clip = pack.word(pack.index_of(word).unwrap()).tiers[0].unwrap();
    clips[usize::from(clip.clip)].samples().to_vec()
}

/// As a microphone in a quiet room gives it.
pub(crate) fn write(path: &Path, sound: &[f32]) {
    let spec = hound::WavSpec { channels: 2, sample_rate: 48_000, bits_per_sample: 16, sample_format: hound::SampleFormat::Int };
    let mut wav = hound::WavWriter::create(path, spec).unwrap();
    let mut noise = 1_u32;
    for sample in sound {
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let room = (noise >> 24) as f32 / 255.0 - 0.5;
        let whole = (sample * 32_767.0 + 8.0 * room) as i16;
        wav.write_sample(whole).unwrap();
        wav.write_sample(whole).unwrap();
    }
    wav.finalize().unwrap();
}

impl Desk {
    fn voice(&self) -> PathBuf {
        self.path("home/.local/share/precentor/voices/maple")
    }
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

/// How far each word's beat lies from the built-in voice's, whose words these are, in milliseconds.
pub(crate) fn beats_off(own: &Own) -> Vec<f64> {
    let pack = Pack::builtin().unwrap();
    let natural = |id: &str| pack.word(pack.index_of(id).unwrap()).tiers[0].unwrap();
    own.clips.iter().filter(|clip| clip.name == clip.id).map(|clip| clip.p_centre_ms - natural(clip.id).attack_ms).collect()
}

#[test]
fn a_take_becomes_a_voice_with_every_word_in_its_place() {
    let desk = Desk::new();
    take(&desk.path("take.wav"), &START, 0.8);
    let told = desk.done(&["record", "words", "maple", "--from", "take.wav"]);
    assert!(told.starts_with("19 of 19 prompts found"), "{told}");
    assert!(told.contains("maple speaks 19 words") && told.contains("voice = \"maple\""), "{told}");
    let mut expected: Vec<_> = START.iter().map(|id| format!("{id}.wav")).collect();
    expected.sort();
    assert_eq!(names(&desk.voice()), ["align.tsv", "clips", "pack.toml", "takes"]);
    assert_eq!(names(&desk.voice().join("clips")), expected);
    let kept = names(&desk.voice().join("takes"));
    assert_eq!(
        std::fs::read(desk.voice().join("takes").join(&kept[0])).unwrap(),
        desk.read("take.wav"),
        "the whole take is kept as it was"
    );
    let own = Own::read(&desk.voice()).unwrap();
    assert_eq!((own.troubles.len(), own.words.len() - own.missing().count()), (0, 19));
    // each is the word it is called: its beat is where that word's is
    let off = beats_off(&own);
    let near = off.iter().filter(|ms| ms.abs() < 33.0).count();
    assert!(near >= 17, "{off:.0?}");
}

#[test]
fn one_word_is_recorded_again_and_the_old_one_kept() {
    let desk = Desk::new();
    take(&desk.path("take.wav"), &START, 0.6);
    desk.done(&["record", "words", "maple", "--from", "take.wav"]);
    desk.done(&["record", "align", "maple", "two", "+5"]);
    let before = std::fs::read(desk.voice().join("clips/three.wav")).unwrap();
    take(&desk.path("again.wav"), &["thirteen", "two"], 0.6);
    let told = desk.done(&["record", "words", "maple", "--from", "again.wav", "--prompts", "three", "two"]);
    assert!(told.contains("2 of 2 prompts found") && told.contains("set by hand before"), "{told}");
    assert_eq!(std::fs::read(desk.voice().join("takes/three.wav")).unwrap(), before);
    assert_ne!(std::fs::read(desk.voice().join("clips/three.wav")).unwrap(), before);
    let table = std::fs::read_to_string(desk.voice().join("align.tsv")).unwrap();
    assert_eq!(table.lines().filter(|line| line.ends_with("\tmanual")).count(), 1);
}

#[test]
fn a_take_that_does_not_fit_its_prompts_changes_no_word() {
    let desk = Desk::new();
    take(&desk.path("take.wav"), &START[..17], 0.8);
    let run = desk.run(&["record", "words", "maple", "--from", "take.wav"]);
    assert_eq!(run.code, 1);
    assert!(run.out.starts_with("17 of 19 prompts found"), "{}", run.out);
    assert!(run.err.contains("17 sounds were found where 19 words were asked for") && run.err.contains(" s long"), "{}", run.err);
    assert_eq!(names(&desk.voice().join("clips")), [""; 0]);
}

#[test]
fn a_beat_is_moved_by_hand_and_heard_against_a_click() {
    let desk = Desk::new();
    take(&desk.path("take.wav"), &["six", "eight"], 0.8);
    desk.done(&["record", "words", "maple", "--from", "take.wav", "--prompts", "six,eight"]);
    let own = Own::read(&desk.voice()).unwrap();
    let measured = own.clip("six").unwrap().p_centre_ms;
    assert!(desk.done(&["record", "align", "maple", "six"]).contains("measured"));
    let told = desk.done(&["record", "align", "maple", "six", "-5", "-o", "six.wav"]);
    assert!(told.contains("it sounds 5.0 ms later") && told.contains("wrote six.wav"), "{told}");
    let own = Own::read(&desk.voice()).unwrap();
    let clip = own.clip("six").unwrap();
    assert!(clip.by_hand && (clip.p_centre_ms - (measured - 5.0)).abs() < 0.11);
    let mut reader = hound::WavReader::open(desk.path("six.wav")).unwrap();
    assert_eq!((reader.spec().channels, reader.spec().sample_rate), (2, RATE));
    let sound: Vec<i32> = reader.samples::<i32>().map(Result::unwrap).collect();
    let first = |side: usize, from: usize| (from..).find(|frame| sound[2 * frame + side].abs() > 30).unwrap();
    for beat in 0..8 {
        let at = 12_000 + beat * 24_000;
        assert!(first(0, at - 2_000).abs_diff(at) <= 2, "the click of beat {beat}");
        let start = at as f64 - clip.p_centre_ms * 24.0;
        let heard = first(1, (start - 400.0) as usize) as f64;
        assert!((0.0..600.0).contains(&(heard - start)), "the word of beat {beat} at {heard} for {start}");
    }
}

#[test]
fn slips_are_told_with_their_mend() {
    let desk = Desk::new();
    take(&desk.path("take.wav"), &["six"], 0.8);
    let refused = |args: &[&str], says: &str| {
        let told = desk.refused(args);
        assert!(told.contains(says), "{args:?}: {told}");
    };
    refused(&["record", "words", "My Voice!", "--from", "take.wav"], "such as my-voice");
    refused(&["record", "words", "../maple", "--from", "take.wav"], "is no name for a voice");
    refused(&["record", "words", "maple", "--from", "take.wav", "--prompts", "sevn"], "did you mean seven?");
    refused(&["record", "words", "maple", "--from", "take.wav", "--language", "xx"], "there is no word list for \"xx\"; choose one of en");
    refused(&["record", "words", "maple", "--from", "none.wav"], "none.wav");
    refused(&["record", "words", "maple", "--from", "room.toml"], "name a WAV, FLAC or Ogg Vorbis file");
    refused(&["record", "align", "maple", "six"], "record one: precentor record words NAME");
    assert!(!desk.voice().exists());
    desk.done(&["record", "words", "maple", "--from", "take.wav", "--prompts", "six"]);
    refused(&["record", "align", "maple", "sixx", "+5"], "did you mean six?");
    desk.write("home/.local/share/precentor/voices/maple/pack.toml", "langage = \"en\"");
    refused(&["record", "align", "maple", "six"], "pack.toml");
    // nobody presses ENTER
    let run = desk.run(&["record", "words", "oak"]);
    assert_eq!(run.code, 2);
    assert!(run.out.contains("your own voice") && run.out.contains("stays on this machine") && run.err.contains("nothing was recorded"));
}
