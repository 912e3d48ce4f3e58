//! The callback under RealtimeSanitizer: `rtsan MINUTES [SEED]` plays a class led at random, `rtsan prove` allocates in the callback on
//! purpose. The sanitizer ends the program at the first call that allocates, frees, locks, waits or may call the system.

#[path = "../../render/whims.rs"]
mod whims;

use engine::speech::Pack;
use engine::{Renderer, Score};
use std::sync::Arc;
use synth::ClipBank;
use units::SampleRate;
use whims::Whims;

const RATE: SampleRate = SampleRate::DEFAULT;

#[rtsan_standalone::nonblocking]
fn fill(renderer: &mut Renderer, out: &mut [f32], channels: usize) {
    renderer.fill(out, channels);
}

#[rtsan_standalone::nonblocking]
fn guilty() -> Vec<u8> {
    std::hint::black_box(vec![1; 64])
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    if words.first().is_some_and(|word| word == "prove") {
        println!("{} bytes and no complaint", guilty().len());
        return;
    }
    let minutes: f64 = words.first().and_then(|word| word.parse().ok()).unwrap_or(10.0);
    let seed = words.get(1).and_then(|word| word.parse().ok()).unwrap_or(1);
    let pack = Pack::builtin().expect("the pack is whole");
    let clips = Arc::new(ClipBank::new(pack.decode(RATE).expect("the clips are whole")));
    let room = book::demo::room();
    let plans = book::demo::drills().into_iter().flat_map(|drill| [drill.compile(&room), drill.in_turn(&room)]);
    let scores = plans.map(|plan| Arc::new(Score::new(plan.expect("a plan"), &room, &pack, RATE))).collect();
    let mut class = Whims::new(seed, RATE, room, scores, clips);
    let mut callbacks = 0_u64;
    while (class.renderer.now().0 as f64) < minutes * 60.0 * f64::from(RATE.hz()) {
        let (out, _) = class.callback(fill);
        assert!(out.iter().all(|sample| sample.is_finite()));
        callbacks += 1;
    }
    println!("{minutes} minutes, seed {seed}: {callbacks} callbacks and {} whims without a complaint", class.obeyed);
}
