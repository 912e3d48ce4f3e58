//! From a transcription to stretches of time with targets: how long each sound lasts, and what stops and affricates are
//! made of.

use super::phones::{Manner, Phone};

/// A sound in its place.
#[derive(Clone, Copy, Debug)]
pub struct Sound {
    /// Which.
    pub phone: &'static Phone,
    /// Whether its syllable is stressed; means something for vowels only.
    pub stressed: bool,
}

/// A stretch with one set of targets.
#[derive(Clone, Copy, Debug)]
pub struct Segment {
    /// The sound it belongs to, by place in the transcription.
    pub sound: usize,
    /// Formants where it begins, in hertz.
    pub from: [f64; 3],
    /// Where it ends.
    pub to: [f64; 3],
    /// Bandwidths in hertz.
    pub widths: [f64; 3],
    /// Gains of the noise, as [`Phone::noise`].
    pub noise: [f64; 6],
    /// Milliseconds.
    pub lasts: f64,
    /// Levels of voice, breath and noise, in decibels; zero is none.
    pub voice: f64,
    /// Breath through the whole tract.
    pub breath: f64,
    /// Noise made at a narrow place.
    pub hiss: f64,
    /// How far the nose is open, from 0 to 1.
    pub nose: f64,
    /// Milliseconds its formants take to come from those before and to go to those after.
    pub glide: f64,
    /// Whether neighbouring vowels bend towards it.
    pub pulls: bool,
}

impl Segment {
    fn new(sound: usize, phone: &Phone, lasts: f64) -> Self {
        Self {
            sound,
            from: phone.from,
            to: phone.to,
            widths: phone.widths,
            noise: phone.noise,
            lasts,
            voice: phone.voicing,
            breath: 0.0,
            hiss: 0.0,
            nose: 0.0,
            glide: 40.0,
            pulls: !phone.manner.is_vowel(),
        }
    }

    /// The same with the mouth shut.
    fn closed(self) -> Self {
        let low = |[_, second, third]: [f64; 3]| [200.0, second, third];
        Self { noise: [0.0; 6], from: low(self.from), to: low(self.to), ..self }
    }
}

/// The segments of `sounds`, spoken `rate` times as fast as unhurried.
#[must_use]
pub fn segments(sounds: &[Sound], rate: f64) -> Vec<Segment> {
    let syllables = sounds.iter().filter(|sound| sound.phone.manner.is_vowel()).count();
    let mut out = Vec::with_capacity(sounds.len() * 2);
    for (index, sound) in sounds.iter().enumerate() {
        let around = Around {
            index,
            before: index.checked_sub(1).and_then(|before| sounds.get(before)).map(|sound| sound.phone),
            after: sounds.get(index + 1).map(|sound| sound.phone),
            rate,
        };
        let lasts = around.lasts(*sound, syllables);
        around.add(*sound, lasts, &mut out);
    }
    out
}

/// What a sound stands between.
struct Around {
    index: usize,
    before: Option<&'static Phone>,
    after: Option<&'static Phone>,
    rate: f64,
}

impl Around {
    fn is_last(&self) -> bool {
        self.after.is_none_or(|after| after.manner == Manner::Pause)
    }

    fn before_open(&self) -> bool {
        self.after.is_some_and(|after| after.manner.is_open())
    }

    fn lasts(&self, sound: Sound, syllables: usize) -> f64 {
        let phone = sound.phone;
        if !phone.manner.is_vowel() {
            // consonants are shortened less than vowels
            let clipped = if self.before_open() || self.is_last() { 1.0 } else { 0.85 };
            return (phone.lasts * clipped / self.rate.powf(0.6)).max(phone.least);
        }
        let weak = match (sound.stressed, phone.symbol.ends_with('_')) {
            (true, _) => 1.0,
            (false, true) => 0.8, // Spanish and French vowels are hardly reduced
            (false, false) => 0.62,
        };
        let inner = if syllables > 1 && !self.is_last() { 0.88 } else { 1.0 };
        let clipped = match self.after.map(|after| after.manner) {
            Some(Manner::Stop | Manner::Affricate | Manner::Fricative) => 0.72,
            _ => 1.0,
        };
        let drawn = if self.is_last() { 1.15 } else { 1.0 };
        let least = if sound.stressed { phone.least } else { phone.least * 0.7 };
        (phone.lasts * weak * inner * clipped * drawn / self.rate).max(least)
    }

    fn add(&self, sound: Sound, lasts: f64, out: &mut Vec<Segment>) {
        let phone = sound.phone;
        let plain = Segment::new(self.index, phone, lasts);
        match phone.manner {
            Manner::Vowel | Manner::NasalVowel => out.push(Segment {
                voice: if sound.stressed { phone.voicing } else { phone.voicing - 3.0 },
                nose: if phone.manner == Manner::NasalVowel { 0.7 } else { 0.0 },
                ..plain
            }),
            Manner::Glide => out.push(Segment { glide: 55.0, ..plain }),
            Manner::Nasal => out.push(Segment { nose: 1.0, glide: 20.0, ..plain }),
            Manner::Fricative => out.push(Segment { hiss: 60.0, glide: 30.0, ..plain }),
            Manner::VoicedFricative => out.push(Segment { hiss: 54.0, glide: 30.0, ..plain }),
            Manner::Breath => {
                let shape = self.after.unwrap_or(phone);
                let [_, second, third] = shape.widths;
                out.push(Segment {
                    from: shape.from,
                    to: shape.from,
                    widths: [150.0, second * 1.3, third],
                    breath: 56.0,
                    pulls: false,
                    ..plain
                });
            }
            Manner::Stop | Manner::VoicedStop => self.stop(phone, lasts, out),
            Manner::Affricate | Manner::VoicedAffricate => {
                let voiced = phone.manner == Manner::VoicedAffricate;
                let shut = if self.before.is_none() { 3.0 } else { lasts * 0.45 };
                out.push(Segment { lasts: shut, voice: if voiced { 42.0 } else { 0.0 }, ..plain.closed() });
                out.push(Segment { lasts: lasts * 0.6, hiss: 60.0, voice: if voiced { 40.0 } else { 0.0 }, glide: 6.0, ..plain });
            }
            Manner::Pause => out.push(plain),
        }
    }

    /// Closure, burst and, after an unvoiced one, breath.
    fn stop(&self, phone: &'static Phone, lasts: f64, out: &mut Vec<Segment>) {
        let voiced = phone.manner == Manner::VoicedStop;
        let mut plain = Segment::new(self.index, phone, lasts);
        if phone.noise[0] > 0.0 {
            self.bend_velar(&mut plain);
        }
        let shut = match (self.before, voiced) {
            (None, true) => lasts * 0.7,
            (None, false) => 2.0,
            (Some(_), _) => lasts,
        };
        let [_, second, third] = plain.widths;
        out.push(Segment { lasts: shut, widths: [60.0, second, third], glide: 35.0, ..plain.closed() });
        let burst = if voiced { 8.0 } else { 12.0 };
        out.push(Segment { lasts: burst, voice: 0.0, hiss: if self.is_last() { 52.0 } else { 60.0 }, glide: 4.0, ..plain });
        let after_s = self.before.is_some_and(|before| before.symbol == "S");
        if voiced || after_s || phone.symbol.ends_with('_') {
            return;
        }
        let breath = if self.before_open() {
            (38.0 / self.rate.sqrt()).max(22.0)
        } else if self.is_last() {
            25.0
        } else {
            10.0
        };
        let mut to = plain.to;
        if let Some(next) = self.after.filter(|after| after.manner.is_open()) {
            for ((to, own), next) in to.iter_mut().zip(plain.from).zip(next.from) {
                *to = 0.5 * (own + next);
            }
        }
        let level = if self.is_last() { 44.0 } else { 54.0 };
        out.push(Segment { lasts: breath, to, widths: [220.0, second, third], voice: 0.0, breath: level, hiss: 40.0, glide: 8.0, ..plain });
    }

    /// k and g are made where the tongue is for the vowel beside them.
    fn bend_velar(&self, segment: &mut Segment) {
        let after = self.after.filter(|after| after.manner.is_open()).map(|after| after.from);
        let before = self.before.filter(|before| before.manner.is_vowel()).map(|before| before.to);
        let Some([_, vowel, _]) = after.or(before) else { return };
        let second = (vowel * 1.05 + 120.0).clamp(1000.0, 2300.0);
        let [first, ..] = segment.from;
        segment.from = [first, second, (second + 500.0).max(2050.0)];
        segment.to = segment.from;
        let [back, front, ..] = &mut segment.noise;
        (*back, *front) = if vowel < 1400.0 { (60.0, 45.0) } else { (40.0, 60.0) };
    }
}
