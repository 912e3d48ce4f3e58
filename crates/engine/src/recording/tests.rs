//! Every kind of file, whole, hurt and none.

use super::*;
use hound::{SampleFormat, WavSpec, WavWriter};
use proptest::prelude::*;

fn wav_of(bits: u16, format: SampleFormat, channels: u16, rate: u32, frames: usize) -> tempfile::NamedTempFile {
    let file = tempfile::NamedTempFile::new().unwrap();
    let spec = WavSpec { channels, sample_rate: rate, bits_per_sample: bits, sample_format: format };
    let mut writer = WavWriter::create(file.path(), spec).unwrap();
    for n in 0..frames {
        for channel in 0..channels {
            let value = 0.5 * (n as f64 * 0.05).sin() + if channel == 0 { 0.25 } else { -0.25 };
            match format {
                SampleFormat::Float => writer.write_sample(value as f32).unwrap(),
                SampleFormat::Int => writer.write_sample((value * f64::from((1_u32 << (bits - 1)) - 1)) as i32).unwrap(),
            }
        }
    }
    writer.finalize().unwrap();
    file
}

fn whole(path: &Path) -> (Vec<f32>, bool) {
    let mut recording = Recording::open(path).unwrap();
    let (mut all, mut block) = (Vec::new(), [0.0; 480]);
    loop {
        let came = recording.read(&mut block);
        all.extend_from_slice(&block[..came]);
        if came < block.len() {
            return (all, recording.condition().cut_off);
        }
    }
}

#[test]
fn every_kind_of_wav_is_the_same_sound() {
    for (bits, format) in
        [(8, SampleFormat::Int), (16, SampleFormat::Int), (24, SampleFormat::Int), (32, SampleFormat::Int), (32, SampleFormat::Float)]
    {
        for (channels, rate) in [(1, 8_000), (2, 48_000), (6, 192_000)] {
            let file = wav_of(bits, format, channels, rate, 1000);
            let (sound, cut_off) = whole(file.path());
            assert_eq!((sound.len(), cut_off), (1000, false), "{bits} {format:?} {channels} {rate}");
            let offset = if channels == 1 { 0.25 } else { -0.25 + 0.5 / f64::from(channels) };
            for (n, sample) in sound.iter().enumerate() {
                let wanted = 0.5 * (n as f64 * 0.05).sin() + offset;
                assert!((f64::from(*sample) - wanted).abs() < 2.5 / f64::from(1_u32 << (bits.min(24) - 1)), "{bits} bits, frame {n}");
            }
        }
    }
}

#[test]
fn what_is_no_number_is_silence() {
    let file = tempfile::NamedTempFile::new().unwrap();
    let spec = WavSpec { channels: 1, sample_rate: 48_000, bits_per_sample: 32, sample_format: SampleFormat::Float };
    let mut writer = WavWriter::create(file.path(), spec).unwrap();
    [0.5, f32::NAN, f32::INFINITY, -0.5].into_iter().for_each(|sample| writer.write_sample(sample).unwrap());
    writer.finalize().unwrap();
    assert_eq!(whole(file.path()).0, [0.5, 0.0, 0.0, -0.5]);
}

#[test]
fn a_file_that_is_cut_off_says_so_after_what_there_is() {
    let file = wav_of(16, SampleFormat::Int, 2, 48_000, 1000);
    let bytes = std::fs::read(file.path()).unwrap();
    std::fs::write(file.path(), &bytes[..bytes.len() - 402]).unwrap();
    let (sound, cut_off) = whole(file.path());
    assert_eq!((sound.len(), cut_off), (899, true));
}

#[test]
fn what_is_no_recording_is_told_with_its_mend() {
    let message = |bytes: &[u8]| {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), bytes).unwrap();
        Recording::open(file.path()).err().unwrap().to_string()
    };
    assert!(message(b"").contains("is empty"));
    assert!(message(b"version = 1").contains("is no WAV or FLAC file"));
    assert!(message(b"RIFF").contains("cannot be understood"));
    assert!(message(b"fLaC").contains("cannot be understood"));
    let file = wav_of(16, SampleFormat::Int, 1, 4_000, 10);
    assert!(Recording::open(file.path()).err().unwrap().to_string().contains("has 4000 frames a second"));
    assert!(Recording::open(Path::new("nowhere.wav")).err().unwrap().to_string().starts_with("nowhere.wav cannot be read"));
}

/// A WAV file's bytes with the length in its head, and that of its sound, said to be these.
fn saying(whole: u32, sound: u32) -> tempfile::NamedTempFile {
    let file = wav_of(16, SampleFormat::Int, 2, 48_000, 1000);
    let mut bytes = std::fs::read(file.path()).unwrap();
    // after RIFF; hound puts 36 or 60 bytes before the sound's mark
    bytes[4..8].copy_from_slice(&whole.to_le_bytes());
    let at = bytes.windows(4).position(|mark| mark == b"data").unwrap() + 4;
    bytes[at..at + 4].copy_from_slice(&sound.to_le_bytes());
    std::fs::write(file.path(), bytes).unwrap();
    file
}

#[test]
fn a_head_that_was_never_finished_loses_nothing() {
    let (wanted, _) = whole(wav_of(16, SampleFormat::Int, 2, 48_000, 1000).path());
    for (riff, sound) in [(0, 0), (36, 0), (u32::MAX, u32::MAX), (0x7fff_f024, 0x7fff_f000)] {
        assert_eq!(whole(saying(riff, sound).path()), (wanted.clone(), false), "{riff} {sound}");
    }
    // a length that could be true is believed: the file was cut off
    assert_eq!(whole(saying(8_036, 8_000).path()), (wanted, true));
}

#[test]
fn a_file_without_sound_is_told() {
    let file = wav_of(16, SampleFormat::Int, 1, 48_000, 0);
    assert!(Recording::open(file.path()).err().unwrap().to_string().contains("there is no sound in it"));
}

#[test]
fn zeros_and_channels_that_cancel_each_other_are_told() {
    let condition = |frames: &[(f32, f32)]| {
        let file = tempfile::NamedTempFile::new().unwrap();
        let spec = WavSpec { channels: 2, sample_rate: 48_000, bits_per_sample: 32, sample_format: SampleFormat::Float };
        let mut writer = WavWriter::create(file.path(), spec).unwrap();
        frames.iter().flat_map(|(left, right)| [*left, *right]).for_each(|sample| writer.write_sample(sample).unwrap());
        writer.finalize().unwrap();
        let mut recording = Recording::open(file.path()).unwrap();
        while recording.read(&mut [0.0; 64]) == 64 {}
        (recording.frames(), recording.condition())
    };
    let fine = Condition::default();
    assert_eq!(condition(&[(0.5, 0.5); 100]), (100, fine));
    assert_eq!(condition(&[(0.5, 0.0); 100]), (100, fine), "one channel is enough");
    assert_eq!(condition(&[(0.0, 0.0); 100]), (100, Condition { silent: true, ..fine }));
    assert_eq!(condition(&[(0.5, -0.5); 100]), (100, Condition { cancelled: true, ..fine }));
    assert_eq!(condition(&[(0.5, f32::NAN); 3]), (3, Condition { no_numbers: 3, ..fine }));
    assert_eq!(condition(&[(1e30, f32::NEG_INFINITY); 3]), (3, Condition { no_numbers: 6, silent: true, ..fine }));
}

/// A spoken word in FLAC, as it comes with the program.
fn word() -> Vec<u8> {
    std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets-synth/voice/packs/en-slt/clips/seven.flac")).unwrap()
}

#[test]
fn a_flac_file_that_is_cut_off_or_damaged_says_so_after_what_there_is() {
    let bytes = word();
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), &bytes).unwrap();
    let (sound, cut_off) = whole(file.path());
    assert!(!cut_off && sound.len() > 5_000, "{}", sound.len());
    std::fs::write(file.path(), &bytes[..bytes.len() * 2 / 3]).unwrap();
    let (part, cut_off) = whole(file.path());
    assert!(cut_off && part.len() < sound.len() && part[..] == sound[..part.len()], "{} of {}", part.len(), sound.len());
    let mut hurt = bytes.clone();
    let middle = hurt.len() / 2;
    hurt[middle..middle + 40].fill(0x55);
    std::fs::write(file.path(), &hurt).unwrap();
    let (left, cut_off) = whole(file.path());
    assert!(cut_off && left.len() < sound.len(), "{} of {}", left.len(), sound.len());
}

fn hurt_files() -> u32 {
    std::env::var("PRECENTOR_HURT_FILES").ok().and_then(|count| count.parse().ok()).unwrap_or(256)
}

/// Reads all there is, as long as it comes; nothing may be no number, and no more may come than the bytes can hold.
fn survived(bytes: &[u8]) -> Result<(), TestCaseError> {
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), bytes).unwrap();
    let Ok(mut recording) = Recording::open(file.path()) else { return Ok(()) };
    let mut block = [0.0; 256];
    while recording.read(&mut block) == block.len() {
        prop_assert!(block.iter().all(|sample| sample.is_finite()));
        // a constant FLAC block of 65536 frames takes a dozen bytes
        prop_assert!(recording.frames() < 65_536 * (bytes.len() as u64 + 1));
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: hurt_files(), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_are_survived(kind in 0..3_usize, bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let mark: &[u8] = [b"RIFF".as_slice(), b"fLaC", b""][kind];
        survived(&[mark, &bytes].concat())?;
    }

    /// Files that are right but for some bytes get further into the decoders than bytes at random do. With PRECENTOR_HURT_FILES=100000 so many.
    #[test]
    fn files_hurt_anywhere_are_survived(
        flac in any::<bool>(), kind in 0..5_usize, hurts in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>(), any::<bool>()), 1..12),
        end in prop::option::of(any::<prop::sample::Index>()),
    ) {
        let kinds = [(8, SampleFormat::Int), (16, SampleFormat::Int), (24, SampleFormat::Int), (32, SampleFormat::Int), (32, SampleFormat::Float)];
        let mut bytes = if flac {
            word()
        } else {
            let (bits, format) = kinds[kind];
            std::fs::read(wav_of(bits, format, 2, 48_000, 50).path()).unwrap()
        };
        for (at, byte, in_head) in hurts {
            let range = if in_head { bytes.len().min(80) } else { bytes.len() };
            bytes[at.index(range)] = byte;
        }
        let end = end.map_or(bytes.len(), |end| end.index(bytes.len()));
        survived(&bytes[..end])?;
    }
}
