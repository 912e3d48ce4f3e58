//! How long bars are that are not whole, and where in their meter they begin.

use sequencer::PieceBar;
use units::Beats;

use super::Bar;

/// The finest part of a beat that a length is kept to where it is none that music has.
const FINEST: i64 = 48;

/// Shortens the `bars` that last less than their meter's: the first is a pick-up, one that fills up the bar before it is its other half,
/// one that is not counted with the others leads into the next, and any other is left incomplete.
pub(super) fn lay(bars: &mut [PieceBar], written: &[Bar]) {
    let mut before = None;
    for (place, (bar, written)) in bars.iter_mut().zip(written).enumerate() {
        let whole = bar.meter.bar();
        let Some(length) = short(bar, written) else {
            before = None;
            continue;
        };
        let fills_up = before.filter(|end: &Beats| *end + length == whole);
        bar.length = length;
        bar.opens_at = match fills_up {
            Some(end) => end,
            None if place == 0 || written.implicit => whole - length,
            None => Beats::ZERO,
        };
        before = Some(bar.opens_at + length).filter(|end| *end < whole);
    }
}

/// How long a bar lasts that is not whole.
fn short(bar: &PieceBar, written: &Bar) -> Option<Beats> {
    let beat = bar.meter.quarters_in_beat();
    let exact = Beats::new(written.lasts.numerator() * beat.denominator(), written.lasts.denominator() * beat.numerator());
    let length = if book::piece::countable(exact.denominator()) {
        exact
    } else {
        Beats::new((exact.as_f64() * FINEST as f64).round() as i64, FINEST)
    };
    (length > Beats::ZERO && length < bar.meter.bar()).then_some(length)
}
