//! Segments as smooth tracks: what the tract is asked for every two milliseconds.

use super::Speaker;
use super::segments::Segment;

/// Milliseconds of a frame.
pub const FRAME_MS: f64 = 2.0;

/// What the tract does for one frame.
#[derive(Clone, Copy, Debug)]
pub struct Frame {
    /// Formants in hertz.
    pub formants: [f64; 3],
    /// Their bandwidths.
    pub widths: [f64; 3],
    /// Gains of the noise, as [`super::phones::Phone::noise`].
    pub noise: [f64; 6],
    /// Linear levels of voice, breath and noise.
    pub voice: f64,
    /// Breath through the whole tract.
    pub breath: f64,
    /// Noise made at a narrow place.
    pub hiss: f64,
    /// How far the nose is open.
    pub nose: f64,
    /// The voice's pitch in hertz.
    pub pitch: f64,
}

/// The tables' decibels as a factor: 60 is unity, zero is nothing.
#[must_use]
pub fn factor(db: f64) -> f64 {
    if db <= 0.0 { 0.0 } else { 10_f64.powf((db - 60.0) / 20.0) }
}

/// The tracks of `segments` as `speaker` says them; `voiced` is the span of the vowels in milliseconds, over which the
/// pitch rises and falls.
#[must_use]
pub fn tracks(segments: &[Segment], speaker: &Speaker, voiced: (f64, f64)) -> Vec<Frame> {
    let mut starts = Vec::with_capacity(segments.len());
    let mut total = 0.0;
    for segment in segments {
        starts.push(total);
        total += segment.lasts;
    }
    let count = (total / FRAME_MS).ceil() as usize;
    let mut out = Vec::with_capacity(count);
    let mut at = 0;
    for k in 0..count {
        let time = (k as f64 + 0.5) * FRAME_MS;
        while starts.get(at + 1).is_some_and(|next| time >= *next) {
            at += 1;
        }
        let before = at.checked_sub(1).and_then(|before| segments.get(before));
        let (Some(here), Some(start)) = (segments.get(at), starts.get(at)) else { break };
        let (formants, widths) = bend(here, before, segments.get(at + 1), time - start);
        let (from, to) = voiced;
        let along = ((time - from) / (to - from).max(1.0)).clamp(0.0, 1.0);
        out.push(Frame {
            formants,
            widths,
            noise: here.noise,
            voice: factor(here.voice),
            breath: factor(here.breath) * 0.7,
            hiss: factor(here.hiss),
            nose: here.nose,
            pitch: speaker.pitch * (1.10 - 0.28 * along * along),
        });
    }
    smooth(&mut out);
    out
}

/// Formants and bandwidths `time` ms into `here`: from what was, to what comes.
fn bend(here: &Segment, before: Option<&Segment>, after: Option<&Segment>, time: f64) -> ([f64; 3], [f64; 3]) {
    let along = (time / here.lasts).clamp(0.0, 1.0);
    let mut formants = [0.0; 3];
    for ((formant, from), to) in formants.iter_mut().zip(here.from).zip(here.to) {
        *formant = from + (to - from) * along;
    }
    let mut widths = here.widths;
    let sides = [before.map(|before| (before, here, before, time)), after.map(|after| (here, after, after, here.lasts - time))];
    for (left, right, other, distance) in sides.into_iter().flatten() {
        let reach = other.glide.max(here.glide).min(here.lasts * 0.6).max(2.0);
        if distance >= reach {
            continue;
        }
        let own = distance / reach;
        for ((formant, left_to), right_from) in formants.iter_mut().zip(left.to).zip(right.from) {
            *formant = meeting(left_to, right_from, left.pulls, right.pulls) * (1.0 - own) + *formant * own;
        }
        for ((width, left), right) in widths.iter_mut().zip(left.widths).zip(right.widths) {
            *width = 0.5 * (left + right) * (1.0 - own) + *width * own;
        }
    }
    (formants, widths)
}

/// Where two formants meet: a vowel goes most of the way to a consonant's.
fn meeting(left: f64, right: f64, left_pulls: bool, right_pulls: bool) -> f64 {
    match (left_pulls, right_pulls) {
        (true, false) => left + 0.35 * (right - left),
        (false, true) => right + 0.35 * (left - right),
        _ => 0.5 * (left + right),
    }
}

/// Levels rise and fall in milliseconds, not at once; the end dies away.
fn smooth(frames: &mut [Frame]) {
    const LAST_MS: f64 = 30.0;
    let follow = |held: &mut f64, wanted: f64, up: f64, down: f64| {
        let time = if wanted > *held { up } else { down };
        *held += (1.0 - (-FRAME_MS / time).exp()) * (wanted - *held);
        *held
    };
    let (mut voice, mut breath, mut hiss) = (0.0, 0.0, 0.0);
    let mut nose = frames.first().map_or(0.0, |frame| frame.nose);
    let count = frames.len();
    for (k, frame) in frames.iter_mut().enumerate() {
        let end = ((count - k) as f64 * FRAME_MS / LAST_MS).min(1.0);
        frame.voice = follow(&mut voice, frame.voice, 7.0, 9.0) * end;
        frame.breath = follow(&mut breath, frame.breath, 4.0, 8.0) * end;
        frame.hiss = follow(&mut hiss, frame.hiss, 3.0, 5.0) * end.sqrt();
        frame.nose = follow(&mut nose, frame.nose, 8.0, 8.0);
    }
}
