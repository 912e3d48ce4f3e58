//! SoundFonts: a small one made here, of a wave of our own, read, measured, sung in a room, and broken in every way.

mod room;
mod writer;

use engine::soundfont::{SoundFontError, SoundFontFile, Tuning};
use proptest::prelude::*;
use sequencer::PresetId;
use std::path::Path;
use synth::sampled::Region;
use writer::FontWriter;

const A: PresetId = PresetId { bank: 0, number: 56 };

fn only(writer: &FontWriter) -> (Region, Tuning) {
    let font = SoundFontFile::parse(&writer.bytes()).unwrap();
    let (bank, made) = font.bank(&[A]);
    let (sound, tuning) = *made[0].as_ref().unwrap();
    let sound = bank.get(sound).unwrap();
    assert_eq!(sound.regions().len(), 1);
    (sound.regions()[0].clone(), tuning)
}

#[test]
fn a_font_is_read_measured_and_tuned() {
    let font = SoundFontFile::parse(&FontWriter::flat_a().bytes()).unwrap();
    let presets = font.presets();
    let names: Vec<_> = presets.iter().map(|(id, name)| (id.bank, id.number, name.as_str())).collect();
    assert_eq!(names, [(0, 56, "Bright Horn"), (0, 73, "Wooden Pipe"), (1, 56, "Dull Horn")]);
    let (region, tuning) = only(&FontWriter::flat_a());
    let own = 44_100.0 * 5.0 / 509.0;
    assert!((region.own_hz / own - 1.0).abs() < 1e-12, "{}", region.own_hz);
    let flat = 1200.0 * (440.0 / own).log2();
    assert!((f64::from(tuning.corrected_cents) - flat).abs() < 0.01, "{tuning:?}, not {flat}");
    assert_eq!((tuning.samples, tuning.untuned), (1, 0));
}

#[test]
fn what_the_tables_say_is_kept() {
    let generators = vec![(43, 0x4030), (44, 0x7F40), (8, 9_000), (34, -1_200), (36, 1_200), (37, 200), (38, 0), (48, 120), (54, 1)];
    let (region, _) = only(&FontWriter { generators, ..FontWriter::flat_a() });
    assert_eq!((region.keys, region.velocities), (0x30..=0x40, 0x40..=0x7F));
    let (corner, damping) = region.low_pass.unwrap();
    // 8.176 Hz times two to the power of cents over 1200 (specification 2.04, 8.1.2)
    assert!((corner - 8.176 * 2_f32.powf(7.5)).abs() < 1.0 && (damping - 1.414).abs() < 0.01);
    let envelope = region.envelope;
    assert!((envelope.attack - 0.5).abs() < 1e-3 && (envelope.decay - 2.0).abs() < 1e-3 && (envelope.release - 1.0).abs() < 1e-3);
    assert!((envelope.sustain - 0.1).abs() < 1e-3 && (region.gain - 10_f32.powf(-0.6)).abs() < 1e-3);
}

#[test]
fn tuning_by_the_font_makes_no_difference() {
    let own = |writer: &FontWriter| only(writer).0.own_hz;
    let flat = own(&FontWriter::flat_a());
    assert_eq!(own(&FontWriter { root: (69, 20), ..FontWriter::flat_a() }), flat);
    assert_eq!(own(&FontWriter { generators: vec![(52, -25), (54, 1)], ..FontWriter::flat_a() }), flat);
    // an octave asked for stays asked for
    let higher = own(&FontWriter { generators: vec![(51, -12), (54, 1)], ..FontWriter::flat_a() });
    assert!((higher / flat / 2.0 - 1.0).abs() < 1e-9, "{higher}");
}

#[test]
fn a_late_sample_starts_where_it_is_heard() {
    let mut writer = FontWriter::flat_a();
    let silence = 2_000;
    writer.samples.splice(0..0, std::iter::repeat_n(0, silence));
    writer.looped = writer.looped.start + silence as u32..writer.looped.end + silence as u32;
    let (late, _) = only(&writer);
    let (prompt, _) = only(&FontWriter::flat_a());
    // a millisecond is kept
    assert!(late.wave.bytes() <= prompt.wave.bytes() + 45 * 4, "{} and {}", late.wave.bytes(), prompt.wave.bytes());
    assert_eq!(late.own_hz, prompt.own_hz);
}

#[test]
fn an_unknown_preset_is_answered_with_the_nearest() {
    let font = SoundFontFile::parse(&FontWriter::flat_a().bytes()).unwrap();
    let error = font.bank(&[PresetId { bank: 3, number: 56 }]).1.remove(0).unwrap_err();
    assert_eq!(error.to_string(), "the SoundFont has no preset 56 of bank 3");
    let SoundFontError::NoPreset { nearest, .. } = error else { panic!("{error}") };
    assert_eq!(nearest[0], (A, "Bright Horn".to_owned()));
}

#[test]
fn silence_is_no_sound() {
    let font = SoundFontFile::parse(&FontWriter { samples: vec![0; 5_000], ..FontWriter::flat_a() }.bytes()).unwrap();
    assert!(matches!(font.bank(&[A]).1[0], Err(SoundFontError::Empty { .. })));
}

#[test]
fn the_same_content_has_the_same_mark_and_presets_share_their_samples() {
    let bytes = FontWriter::flat_a().bytes();
    let font = SoundFontFile::parse(&bytes).unwrap();
    assert_eq!(font.bank(&[A, PresetId { number: 73, ..A }]).0.bytes(), font.bank(&[A]).0.bytes());
    assert_eq!(font.mark(), SoundFontFile::parse(&bytes).unwrap().mark());
    let other = FontWriter { root: (70, 0), ..FontWriter::flat_a() }.bytes();
    assert_ne!(font.mark(), SoundFontFile::parse(&other).unwrap().mark());
}

#[test]
fn what_is_no_font_says_what_is_wrong() {
    let whole = FontWriter::flat_a().bytes();
    let fault = |bytes: &[u8]| SoundFontFile::parse(bytes).unwrap_err();
    assert_eq!(fault(b""), "it does not begin as a SoundFont does");
    assert_eq!(fault(b"[[section]]"), "it does not begin as a SoundFont does");
    assert_eq!(fault(&whole[..whole.len() - 10]), "it is cut off");
    assert_eq!(fault(&whole[..whole.len() / 2]), "it is cut off");
    let missing = SoundFontFile::read(Path::new("no-such.sf2")).unwrap_err().to_string();
    assert!(missing.starts_with("the SoundFont no-such.sf2 cannot be read: "), "{missing}");
}

/// Everything that can be asked of a font.
fn ask(font: &SoundFontFile) {
    let presets: Vec<PresetId> = font.presets().into_iter().map(|(preset, _)| preset).collect();
    let (bank, made) = font.bank(&presets);
    assert_eq!(made.len(), presets.len());
    assert!(made.iter().flatten().all(|(sound, _)| bank.get(*sound).is_some()));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn a_broken_font_is_refused_or_read_but_never_panics(
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>(), any::<bool>()), 1..12), cut in prop::option::of(any::<prop::sample::Index>()),
    ) {
        let mut bytes = FontWriter::flat_a().bytes();
        // most of a font is samples; its tables are the last part
        let tables = bytes.len() - 560;
        for (place, value, anywhere) in changes {
            let at = if anywhere { place.index(bytes.len()) } else { tables + place.index(560) };
            bytes[at] = value;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        match SoundFontFile::parse(&bytes) {
            Ok(font) => ask(&font),
            Err(fault) => prop_assert!(!fault.is_empty()),
        }
    }
}
