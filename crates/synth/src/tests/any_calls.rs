//! Whatever is called in whatever order with whatever values: no panic, a bounded output, and a hush that works.

use super::*;
use crate::care::TRUE_PEAK_CEILING;
use crate::sampled::SoundIndex;
use proptest::prelude::*;

#[derive(Clone, Debug)]
enum Call {
    Tone(usize, f64, i64, i64, f32, u8),
    Sampled(u16, f64, i64, i64, f32),
    Samples(bool),
    Strike(i64, f32),
    Click(i64, f32),
    Breath(i64, i64),
    Say(u16, i64, Option<i64>),
    Release(i64),
    Drone(Option<(f64, u32, u32, f64)>),
    Level(u8, f32),
    Master(f32),
    Hush,
    Blocks(u8),
}

fn frames() -> impl Strategy<Value = i64> {
    prop_oneof![-200_i64..200, 0_i64..9_000, Just(i64::MIN), Just(i64::MAX)]
}

fn level() -> impl Strategy<Value = f32> {
    prop_oneof![0.0_f32..2.0, Just(0.0), Just(f32::MAX)]
}

fn hz() -> impl Strategy<Value = f64> {
    prop_oneof![20.0_f64..5_000.0, Just(1e-300), Just(1e300), Just(23_999.0)]
}

fn call() -> impl Strategy<Value = Call> {
    prop_oneof![
        5 => (0_usize..24, hz(), frames(), frames(), level(), any::<u8>()).prop_map(|(t, f, a, b, l, s)| Call::Tone(t, f, a, b, l, s)),
        3 => (0_u16..2, hz(), frames(), frames(), level()).prop_map(|(s, f, a, b, l)| Call::Sampled(s, f, a, b, l)),
        1 => any::<bool>().prop_map(Call::Samples),
        1 => (frames(), level()).prop_map(|(a, l)| Call::Strike(a, l)),
        1 => (frames(), level()).prop_map(|(a, l)| Call::Click(a, l)),
        1 => (frames(), frames()).prop_map(|(a, b)| Call::Breath(a, b)),
        1 => (0_u16..4, frames(), prop::option::of(frames())).prop_map(|(c, a, b)| Call::Say(c, a, b)),
        1 => frames().prop_map(Call::Release),
        1 => prop::option::of((hz(), any::<u32>(), any::<u32>(), prop_oneof![Just(0.0), Just(f64::NAN), -100.0..100.0]))
            .prop_map(Call::Drone),
        1 => (any::<u8>(), level()).prop_map(|(b, l)| Call::Level(b, l)),
        1 => level().prop_map(Call::Master),
        1 => Just(Call::Hush),
        5 => (1_u8..12).prop_map(Call::Blocks),
    ]
}

fn make(stage: &mut Stage, call: Call) {
    let at = |offset: i64| FrameInstant(stage.now.wrapping_add_signed(offset));
    match call {
        Call::Tone(timbre, f, start, end, level, section) => stage.band.tone(Tone {
            timbre: Timbre::ALL[timbre],
            frequency: hertz(f),
            start: at(start),
            end: at(end),
            level: Gain::new(level),
            bus: Bus::Section(section),
            slide: None,
        }),
        Call::Sampled(sound, f, start, end, level) => stage.band.sampled_tone(Tone {
            timbre: SoundIndex(sound),
            frequency: hertz(f),
            start: at(start),
            end: at(end),
            level: Gain::new(level),
            bus: Bus::Section(1),
            slide: None,
        }),
        Call::Samples(some) => {
            stage.band.worn_out_samples();
            stage.band.set_samples(some.then(|| super::sampled::bank(super::sampled::ENVELOPE)).as_ref());
        }
        Call::Strike(start, level) => stage.band.strike(Drum::Snare, at(start), Gain::new(level), Bus::Section(2)),
        Call::Click(start, level) => stage.band.click(ClickKind::Beat, at(start), Gain::new(level)),
        Call::Breath(start, end) => stage.band.breath(Breath { start: at(start), end: at(end) }, Gain::UNITY),
        Call::Say(clip, start, cut) => stage.band.say(clip, at(start), cut.map(at)),
        Call::Release(from) => stage.band.release_tones(at(from)),
        Call::Drone(drone) => stage.band.set_drone(drone.map(|(root, upper, lower, cents)| chord(root, &[(upper, lower, cents)]))),
        Call::Level(bus, level) => stage.band.set_level(Bus::Section(bus), Gain::new(level)),
        Call::Master(level) => stage.band.set_master(Gain::new(level)),
        Call::Hush => stage.band.hush(),
        Call::Blocks(count) => (0..count).for_each(|_| stage.block()),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]
    #[test]
    fn no_calls_break_the_band(calls in prop::collection::vec(call(), 1..60), start in prop_oneof![0_u64..1_000_000, Just(u64::MAX)]) {
        let loud = vec![vec![1.0; 3_000], vec![f32::NAN; 500], vec![f32::MAX; 500], Vec::new()];
        let mut stage = Stage::at(start.min(1 << 61), loud);
        for call in calls {
            make(&mut stage, call);
        }
        stage.band.hush();
        stage.run(0.04);
        prop_assert!(stage.band.is_silent());
        prop_assert!(stage.out.as_flattened().iter().all(|sample| sample.abs() <= TRUE_PEAK_CEILING));
    }
}
