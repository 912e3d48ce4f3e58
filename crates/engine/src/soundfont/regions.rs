//! From a preset's tables to the regions of a sound.

use rustysynth::{InstrumentRegion, LoopMode, Preset, PresetRegion, SoundFont};
use std::collections::HashMap;
use std::ops::Range;
use std::sync::Arc;
use synth::SampledSound;
use synth::sampled::{Envelope, Region, Wave};

use super::Tuning;
use super::measure::measure;

/// A sample's frames and loop, its rate and the pitch its font claims, all as bits: what makes two uses of a sample the same.
pub(super) type WaveKey = (usize, usize, Option<(usize, usize)>, i32, u64);

/// A sample made ready.
#[derive(Clone, Debug)]
pub(super) struct Measured {
    wave: Arc<Wave>,
    hz: Option<f64>,
    ratio: f32,
    sway: f64,
}

/// Above this corner a filter lets everything through.
const OPEN: f32 = 18_000.0;
/// A sample's start is where it first reaches this share of its peak; the moment before is kept.
const ONSET: (f32, f64) = (0.01, 0.001);
/// The most of a sample's beginning that counts as a late start, in seconds.
const LATEST_ONSET: f64 = 0.25;
/// How far apart, in parts of a whole side, two layers of one key stand for them to be a stereo pair.
const PAIR: f32 = 30.0;
/// What dies away is loudest as it starts: half as strong again as a held tone, as the built-in timbres have it.
const STRUCK: f32 = 1.5;

/// One use of a sample, with what preset and instrument say of it together.
struct Use<'a> {
    preset: &'a PresetRegion,
    own: &'a InstrumentRegion,
}

/// The sound of `preset`; nothing if no sample of it can be sung. `known` are the samples measured so far.
pub(super) fn sound(font: &SoundFont, preset: &Preset, known: &mut HashMap<WaveKey, Measured>) -> Option<(SampledSound, Tuning)> {
    let mut uses: Vec<Use<'_>> = Vec::new();
    for zone in preset.get_regions() {
        let Some(instrument) = font.get_instruments().get(zone.get_instrument_id()) else { continue };
        let meets = |own: &&InstrumentRegion| {
            let pair = Use { preset: zone, own };
            !pair.keys().is_empty() && !pair.velocities().is_empty()
        };
        uses.extend(instrument.get_regions().iter().filter(meets).map(|own| Use { preset: zone, own }));
    }
    let right_of_a_pair = |candidate: &Use<'_>| {
        let same = |other: &&Use<'_>| other.keys() == candidate.keys() && other.velocities() == candidate.velocities();
        candidate.own.get_pan() >= PAIR && uses.iter().filter(same).any(|other| other.own.get_pan() <= -PAIR)
    };
    let kept: Vec<&Use<'_>> = uses.iter().filter(|candidate| !right_of_a_pair(candidate)).collect();
    let soonest = kept.iter().map(|one| one.delay()).fold(f32::INFINITY, f32::min);
    let mut tuning = Tuning::default();
    let mut regions = Vec::new();
    for one in kept {
        regions.extend(one.region(font, soonest, known, &mut tuning));
    }
    let sound = SampledSound::new(preset.get_name().trim().to_owned(), regions)?;
    Some((sound, tuning))
}

impl Use<'_> {
    fn keys(&self) -> Range<i32> {
        let (preset, own) = (self.preset, self.own);
        preset.get_key_range_start().max(own.get_key_range_start())..preset.get_key_range_end().min(own.get_key_range_end()).min(127) + 1
    }

    fn velocities(&self) -> Range<i32> {
        let (preset, own) = (self.preset, self.own);
        let end = preset.get_velocity_range_end().min(own.get_velocity_range_end()).min(127);
        preset.get_velocity_range_start().max(own.get_velocity_range_start())..end + 1
    }

    fn delay(&self) -> f32 {
        seconds(self.own.get_delay_volume_envelope() * self.preset.get_delay_volume_envelope())
    }

    /// Cents by which the font raises the sample: its own correction and what its tables add.
    fn raised(&self) -> f64 {
        let coarse = self.own.get_coarse_tune() + self.preset.get_coarse_tune();
        let fine = self.own.get_fine_tune() + self.preset.get_fine_tune();
        f64::from(coarse) * 100.0 + f64::from(fine)
    }

    fn region(&self, font: &SoundFont, soonest: f32, known: &mut HashMap<WaveKey, Measured>, tuning: &mut Tuning) -> Option<Region> {
        let root = self.own.get_root_key().clamp(0, 127);
        let header = font.get_sample_headers().get(self.own.get_sample_id())?;
        let rate = f64::from(Some(header.get_sample_rate()).filter(|rate| (400..=400_000).contains(rate))?);
        // the pitch the sample must have for the font to be in tune
        let claimed = 440.0 * 2_f64.powf((f64::from(root) - 69.0) / 12.0 - self.raised() / 1200.0);
        let measured = self.measured(font, rate, claimed, known)?;
        tuning.samples += 1;
        let own_hz = match measured.hz {
            Some(hz) => {
                tuning.corrected_cents = tuning.corrected_cents.max((1200.0 * (hz / claimed).log2()).abs() as f32);
                tuning.sway_cents = tuning.sway_cents.max(measured.sway as f32);
                hz
            }
            None => {
                tuning.untuned += 1;
                claimed
            }
        };
        let envelope = self.envelope(soonest);
        let struck = if envelope.sustain < 0.1 { STRUCK } else { 1.0 };
        let attenuation = self.own.get_initial_attenuation() + self.preset.get_initial_attenuation();
        let corner = self.own.get_initial_filter_cutoff_frequency() * self.preset.get_initial_filter_cutoff_frequency();
        let resonance = (self.own.get_initial_filter_q() + self.preset.get_initial_filter_q()).clamp(0.0, 24.0);
        // at zero the specification has a filter without a hump: -3 dB at its corner
        let damping = std::f32::consts::SQRT_2 * 10_f32.powf(-resonance / 20.0);
        Some(Region {
            wave: measured.wave,
            keys: byte(self.keys().start)..=byte(self.keys().end - 1),
            velocities: byte(self.velocities().start)..=byte(self.velocities().end - 1),
            own_hz,
            rate,
            ratio: measured.ratio,
            gain: struck * 10_f32.powf(-attenuation.clamp(0.0, 100.0) / 20.0),
            envelope,
            low_pass: (corner.is_finite() && corner < OPEN).then_some((corner.max(100.0), damping)),
        })
    }

    /// The sample's frames, measured, unless they were before.
    fn measured(&self, font: &SoundFont, rate: f64, claimed: f64, known: &mut HashMap<WaveKey, Measured>) -> Option<Measured> {
        let frame = |at: i32| usize::try_from(at).ok();
        let (first, last) = (frame(self.own.get_sample_start())?, frame(self.own.get_sample_end())?);
        let looped = (self.own.get_sample_modes() != LoopMode::NoLoop)
            .then(|| Some(frame(self.own.get_sample_start_loop())?..frame(self.own.get_sample_end_loop())?))
            .flatten()
            .filter(|range| first <= range.start && range.start < range.end && range.end <= last);
        let key = (first, last, looped.as_ref().map(|range| (range.start, range.end)), rate as i32, claimed.to_bits());
        if let Some(measured) = known.get(&key) {
            return Some(measured.clone());
        }
        // what lies after a loop is never read
        let last = looped.as_ref().map_or(last, |range| range.end);
        let pcm = font.get_wave_data().get(first..last).filter(|pcm| !pcm.is_empty())?;
        let samples: Vec<f32> = pcm.iter().map(|sample| f32::from(*sample) / 32_768.0).collect();
        let onset = onset(&samples, rate).min(looped.as_ref().map_or(samples.len(), |range| range.start - first));
        let samples = samples.get(onset..)?;
        let looped = looped.map(|range| range.start - first - onset..range.end - first - onset);
        let found = measure(samples, rate, looped.clone(), claimed);
        // what cannot be heard cannot be made as loud as the rest
        if found.partials.iter().all(|amplitude| *amplitude < 1e-5) {
            return None;
        }
        let measured =
            Measured { wave: Arc::new(Wave::new(samples, looped, found.partials)), hz: found.hz, ratio: found.ratio, sway: found.sway };
        known.insert(key, measured.clone());
        Some(measured)
    }

    fn envelope(&self, soonest: f32) -> Envelope {
        let (preset, own) = (self.preset, self.own);
        let sustain = own.get_sustain_volume_envelope() + preset.get_sustain_volume_envelope();
        Envelope {
            delay: (self.delay() - soonest).max(0.0),
            attack: seconds(own.get_attack_volume_envelope() * preset.get_attack_volume_envelope()),
            hold: seconds(own.get_hold_volume_envelope() * preset.get_hold_volume_envelope()),
            decay: seconds(own.get_decay_volume_envelope() * preset.get_decay_volume_envelope()),
            sustain: if sustain >= 100.0 { 0.0 } else { 10_f32.powf(-sustain.max(0.0) / 20.0) },
            release: seconds(own.get_release_volume_envelope() * preset.get_release_volume_envelope()),
        }
    }
}

/// Where a sample begins to be heard, less a moment: a tone that is asked for must not wait for a recording's silence.
fn onset(samples: &[f32], rate: f64) -> usize {
    let peak = samples.iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
    let heard = samples.iter().position(|sample| sample.abs() > ONSET.0 * peak).unwrap_or(0);
    let latest = (LATEST_ONSET * rate) as usize;
    if heard > latest { 0 } else { heard.saturating_sub((ONSET.1 * rate) as usize) }
}

/// A time of the font, kept to what can be: its numbers go from nothing to half an hour.
fn seconds(time: f32) -> f32 {
    if time.is_finite() { time.clamp(0.0, 100.0) } else { 0.0 }
}

fn byte(number: i32) -> u8 {
    number.clamp(0, 127) as u8
}
