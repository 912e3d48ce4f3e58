use super::*;

fn rate(hz: u32) -> SampleRate {
    SampleRate::new(hz).unwrap()
}

/// Bursts of noise of differing lengths, at 48 kHz.
fn bursts(seconds: usize) -> Vec<f32> {
    let mut random = 7_u32;
    let mut noise = || {
        random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (random >> 8) as f32 / 8_388_608.0 - 1.0
    };
    (0..seconds * 48_000).map(|n| if n % 31_000 < 17_000 { 0.1 * noise() } else { 0.0 }).collect()
}

/// What of `sent` is heard `delay` frames later by a microphone whose clock goes slower by `ppm`, with an echo of the room.
fn heard(sent: &[f32], delay: f64, ppm: f64) -> Vec<f32> {
    let read = |at: f64| {
        let whole = at.floor();
        let near = |n: i64| {
            let x = (at - n as f64) * std::f64::consts::PI;
            let shape = (0.5 + 0.5 * (x / 24.0).cos()) * if x.abs() < 1e-9 { 1.0 } else { x.sin() / x };
            usize::try_from(n).ok().and_then(|n| sent.get(n)).map_or(0.0, |s| f64::from(*s) * shape)
        };
        (whole as i64 - 23..whole as i64 + 25).map(near).sum::<f64>()
    };
    (0..sent.len()).map(|n| n as f64 * (1.0 + ppm * 1e-6) - delay).map(|at| (0.5 * read(at) - 0.2 * read(at - 1500.0)) as f32).collect()
}

fn power(sound: &[f32]) -> f64 {
    sound.iter().map(|x| f64::from(x * x)).sum::<f64>() / sound.len() as f64
}

/// Feeds both in blocks of unequal lengths, from engine frame `from` on.
fn feed(clearing: &mut Clearing, from: u64, sent: &[f32], heard: &[f32]) -> Vec<f32> {
    let mut out = Vec::new();
    for (n, (sent, heard)) in sent.chunks(512).zip(heard.chunks(512)).enumerate() {
        clearing.sent(FrameInstant(from + 512 * n as u64), sent);
        let (one, two) = heard.split_at(heard.len() / 3);
        clearing.heard(one, |cleared| out.extend_from_slice(cleared.sound));
        clearing.heard(two, |cleared| out.extend_from_slice(cleared.sound));
    }
    out
}

#[test]
fn the_delay_is_found_by_itself_at_any_length() {
    for delay in [240, 4_800, 19_200, 67_200] {
        let sent = bursts(8);
        let mut clearing = Clearing::new(SampleRate::DEFAULT, SampleRate::DEFAULT);
        assert_eq!(clearing.meeting(), Meeting::Unknown);
        feed(&mut clearing, 1_000_000, &sent, &heard(&sent, f64::from(delay), 0.0));
        let Meeting::Found { delay: told, .. } = clearing.meeting() else { panic!("{delay} not found") };
        // blocks of 512 frames are handed in at once
        assert!((told * 48_000.0 - f64::from(delay)).abs() < 600.0, "{delay}: {}", told * 48_000.0);
        let at = clearing.engine_frame(FrameInstant(72_000)).unwrap().0 as f64;
        assert!((at - (1_000_000.0 + 144_000.0 - f64::from(delay))).abs() < 3.0 + 64.0, "{delay}: {at}");
        assert!(matches!(clearing.clearness(), Clearness::Clear(_)), "{delay}: {:?}", clearing.clearness());
    }
}

#[test]
fn a_sweep_tells_delay_ratio_and_way() {
    for ppm in [-150.0, 0.0, 30.0] {
        let mut sent = sweep(SampleRate::DEFAULT, SWEEP_LEVEL);
        sent.resize(sent.len() + 40_000, 0.0);
        let after = sent.len();
        sent.extend(bursts(4));
        let ear = heard(&sent, 9_000.0, ppm);
        let mut clearing = Clearing::new(SampleRate::DEFAULT, SampleRate::DEFAULT);
        feed(&mut clearing, 512 * 100, &sent[..after], &ear[..after]);
        let clear = clearing.calibrate(FrameInstant(512 * 100)).unwrap();
        assert!(matches!(clear, Clearness::Clear(by) if by.0 > 30.0), "{ppm}: {clear:?}");
        let Meeting::Found { ratio_ppm, .. } = clearing.meeting() else { panic!("not found") };
        assert!((ratio_ppm - ppm).abs() < 0.3, "{ppm}: {ratio_ppm}");
        clearing.freeze(true);
        let out = feed(&mut clearing, 512 * 100 + after as u64, &sent[after..], &ear[after..]);
        let taken = 10.0 * (power(&ear[after..]) / power(&out)).log10();
        // the noise goes on to where the sweep did not
        assert!(taken > 28.0, "{ppm}: {taken}");
    }
}

#[test]
fn a_second_sweep_soon_after_the_first_tells_what_it_met_itself() {
    let mut once = sweep(SampleRate::DEFAULT, SWEEP_LEVEL);
    once.resize(once.len() + 84_000, 0.0);
    let mut clearing = Clearing::new(SampleRate::DEFAULT, SampleRate::DEFAULT);
    for (n, delay) in [9_000.0, 24_000.0, 300.0].into_iter().enumerate() {
        let from = (n * once.len()) as u64;
        feed(&mut clearing, from, &once, &heard(&once, delay, 0.0));
        let clear = clearing.calibrate(FrameInstant(from)).unwrap();
        assert!(matches!(clear, Clearness::Clear(by) if by.0 > 30.0), "{delay}: {clear:?}");
        // what is heard now was sent so long before
        let now = from as f64 + once.len() as f64;
        let at = clearing.engine_frame(FrameInstant((now / 2.0) as u64)).unwrap().0 as f64;
        assert!((now - at - delay).abs() < 64.0, "{delay}: {}", now - at);
    }
}

#[test]
fn a_unison_is_not_eaten_when_frozen() {
    let mut sent = sweep(SampleRate::DEFAULT, SWEEP_LEVEL);
    sent.resize(sent.len() + 40_000, 0.0);
    let after = sent.len();
    sent.extend((0..4 * 48_000).map(|n| 0.1 * (f64::from(n) * 0.03).sin() as f32));
    let mut ear = heard(&sent, 9_000.0, 30.0);
    // somebody plays the very tone, 10 dB weaker, in the same phase, at the same speed
    let player = heard(&sent, 9_000.0, 30.0);
    let entry = after + 2 * 48_000;
    ear[entry..].iter_mut().zip(&player[entry..]).for_each(|(to, x)| *to += 0.316 * x);
    let mut clearing = Clearing::new(SampleRate::DEFAULT, SampleRate::DEFAULT);
    feed(&mut clearing, 0, &sent[..after], &ear[..after]);
    clearing.calibrate(FrameInstant(0)).unwrap();
    feed(&mut clearing, after as u64, &sent[after..entry], &ear[after..entry]);
    clearing.freeze(true);
    let out = feed(&mut clearing, entry as u64, &sent[entry..], &ear[entry..]);
    let kept = 10.0 * (power(&out[12_000..]) / power(&player[entry + 24_000..]) / 0.1).log10();
    assert!(kept.abs() < 0.3, "{kept}");
}

#[test]
fn what_is_lost_or_no_number_or_silent_spoils_nothing() {
    let sent = bursts(16);
    let mut ear = heard(&sent, 9_000.0, 0.0);
    let mut clearing = Clearing::new(SampleRate::DEFAULT, SampleRate::DEFAULT);
    // a microphone that gives nothing
    feed(&mut clearing, 0, &sent[..96_256], &vec![0.0; 96_256]);
    assert_eq!((clearing.meeting(), clearing.clearness()), (Meeting::Unknown, Clearness::Unknown));
    assert!(clearing.calibrate(FrameInstant(0)).is_err());
    ear[200_000..200_300].fill(f32::NAN);
    ear[200_300..200_400].fill(f32::INFINITY);
    let half = 480_256;
    feed(&mut clearing, 96_256, &sent[96_256..half], &ear[96_256..half]);
    assert!(matches!(clearing.meeting(), Meeting::Found { .. }));
    // frames of the microphone that never came
    let gap = 512 * 9;
    clearing.sent(FrameInstant(half as u64), &sent[half..half + gap]);
    clearing.lost(FrameSpan(gap as u64));
    let from = half + gap;
    let out = feed(&mut clearing, from as u64, &sent[from..], &ear[from..]);
    assert!(out.iter().all(|x| x.is_finite()));
    let taken = 10.0 * (power(&ear[from + 48_000..]) / power(&out[24_000..])).log10();
    assert!(taken > 25.0, "{taken}");
    // an engine begun anew has to be found again
    clearing.sent(FrameInstant(0), &[0.0; 512]);
    assert_eq!(clearing.meeting(), Meeting::Unknown);
    for bad in [f32::NAN, f32::INFINITY, f32::MAX] {
        clearing.sent(FrameInstant(512), &[bad; 5000]);
        clearing.heard(&[bad; 5000], |cleared| assert!(cleared.sound.iter().all(|x| x.is_finite())));
    }
    clearing.lost(FrameSpan(u64::MAX));
    clearing.sent(FrameInstant(u64::MAX / 2), &[0.1; 512]);
    clearing.heard(&[0.1; 512], |_| ());
}

#[test]
fn after_a_device_was_opened_again_the_delay_is_found_again() {
    let sent = bursts(16);
    let half = 512 * 750;
    let mut clearing = Clearing::new(SampleRate::DEFAULT, SampleRate::DEFAULT);
    feed(&mut clearing, 0, &sent[..half], &heard(&sent[..half], 4_800.0, 0.0));
    clearing.find_again();
    assert_eq!(clearing.meeting(), Meeting::Unknown);
    feed(&mut clearing, half as u64, &sent[half..], &heard(&sent, 14_400.0, 0.0)[half..]);
    let Meeting::Found { delay, .. } = clearing.meeting() else { panic!("not found") };
    assert!((delay * 48_000.0 - 14_400.0).abs() < 600.0, "{}", delay * 48_000.0);
    assert!(matches!(clearing.clearness(), Clearness::Clear(_)), "{:?}", clearing.clearness());
}

#[test]
fn after_the_loudspeaker_ran_dry_what_the_sweep_told_still_holds() {
    let mut sent = sweep(SampleRate::DEFAULT, SWEEP_LEVEL);
    sent.resize(sent.len() + 40_000, 0.0);
    let after = sent.len();
    sent.extend(bursts(8));
    let mut clearing = Clearing::new(SampleRate::DEFAULT, SampleRate::DEFAULT);
    let ear = heard(&sent, 9_000.0, 30.0);
    feed(&mut clearing, 0, &sent[..after], &ear[..after]);
    clearing.calibrate(FrameInstant(0)).unwrap();
    // for 6,000 frames nothing is sent; 9,000 later nothing is heard
    let (dry, ran) = (6_000, after + 512 * 180);
    let late: Vec<f32> = [&ear[..ran + 9_000], &vec![0.0; dry], &ear[ran + 9_000..]].concat();
    feed(&mut clearing, after as u64, &sent[after..ran], &late[after..ran]);
    clearing.heard(&late[ran..ran + dry], |_| ());
    clearing.find_again_near();
    assert!(!clearing.is_placed());
    let out = feed(&mut clearing, ran as u64, &sent[ran..], &late[ran + dry..]);
    assert!(clearing.is_placed());
    let Meeting::Found { delay, ratio_ppm, .. } = clearing.meeting() else { panic!("not found") };
    assert!((delay * 48_000.0 - 9_000.0).abs() < 600.0 && (ratio_ppm - 30.0).abs() < 0.5, "{delay} s, {ratio_ppm} ppm");
    let last = out.len() - 4 * 24_000;
    let taken = 10.0 * (power(&late[late.len() - 2 * 4 * 24_000..]) / power(&out[last..])).log10();
    assert!(taken > 28.0, "{taken}");
}

#[test]
fn sound_dropped_on_its_way_is_met_again_near_by_with_what_the_sweep_told() {
    const PPM: f64 = 30.0;
    let mut sent = sweep(SampleRate::DEFAULT, SWEEP_LEVEL);
    sent.resize(sent.len() + 40_000, 0.0);
    let after = sent.len();
    // the same burst on every beat at 132 bpm: it looks alike a beat earlier and later
    let beat = bursts(1)[..17_000].to_vec();
    while sent.len() < after + 12 * 48_000 {
        sent.extend(beat.iter().copied().chain(std::iter::repeat_n(0.0, 21_818 - beat.len())));
    }
    let mut clearing = Clearing::new(SampleRate::DEFAULT, SampleRate::DEFAULT);
    feed(&mut clearing, 0, &sent[..after], &heard(&sent, 9_000.0, PPM)[..after]);
    clearing.calibrate(FrameInstant(0)).unwrap();
    // 4,000 frames never come, and before them nothing is heard for a while
    let mut ear = heard(&sent, 5_000.0, PPM)[after..].to_vec();
    ear[..72_000].fill(0.0);
    let met = |mut one: Clearing, knows: bool| {
        let mut first = None;
        let mut out = Vec::new();
        for (n, (sent, heard)) in sent[after..].chunks(512).zip(ear.chunks(512)).enumerate() {
            out.extend(feed(&mut one, after as u64 + 512 * n as u64, sent, heard));
            if let (None, Meeting::Found { delay, ratio_ppm, .. }) = (first, one.meeting()) {
                first = Some((48_000.0 * delay, ratio_ppm));
            }
        }
        let last = out.len() - 4 * 24_000;
        assert_eq!(one.is_placed(), knows && first.is_some());
        (first, 10.0 * (power(&ear[2 * last..]) / power(&out[last..])).log10())
    };
    let (first, taken) = met(clearing.again(), true);
    let (delay, ppm) = first.expect("met again");
    assert!((delay - 5_000.0).abs() < 600.0 && (ppm - PPM).abs() < 0.5, "{delay} frames, {ppm} ppm");
    assert!(taken > 28.0, "{taken}");
    // one that knows nothing takes it for a beat earlier or later, or for none, or needs long for the ratio
    let (first, _) = met(Clearing::new(SampleRate::DEFAULT, SampleRate::DEFAULT), false);
    assert!(first.is_none_or(|(delay, ppm)| (delay - 5_000.0).abs() > 600.0 || (ppm - PPM).abs() > 0.5), "{first:?}");
}

#[test]
fn two_rates_meet() {
    let sent = bursts(8);
    let slow: Vec<f32> = heard(&sent, 9_000.0, 0.0);
    // every third frame of what has nothing above 8 kHz
    let mut low = crate::decimate::Decimator::new(rate(48_000));
    let ear: Vec<f32> = slow.iter().filter_map(|x| low.push(*x)).collect();
    let mut clearing = Clearing::new(rate(48_000), rate(24_000));
    for (n, (sent, heard)) in sent.chunks(512).zip(ear.chunks(256)).enumerate() {
        clearing.sent(FrameInstant(512 * n as u64), sent);
        clearing.heard(heard, |_| ());
    }
    assert!(matches!(clearing.meeting(), Meeting::Found { .. }));
}
