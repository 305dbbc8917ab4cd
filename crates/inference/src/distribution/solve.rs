//! Roots of increasing functions, and quantiles: roots of the logarithm of a tail.

/// The positive value at which a falling tail has the logarithm `log_p`, from a first guess; the function returns the logarithms
/// of the tail and of the density.
///
/// Newton's steps on the logarithm of the value. There the logarithm of a tail is bent to one side only, so that the steps
/// approach the root from one side; the tests try them over the whole range.
pub(crate) fn quantile_above_zero(log_p: f64, start: f64, tail_and_density: impl Fn(f64) -> (f64, f64)) -> f64 {
    quantile(log_p, start, |value| {
        let (log_tail, log_density) = tail_and_density(value);
        (log_tail, -(log_density + value.ln() - log_tail).exp())
    })
}

/// The positive value at which a tail has the logarithm `log_p`, from a first guess; the function returns the tail's logarithm and
/// its slope by the logarithm of the value.
pub(crate) fn quantile(log_p: f64, start: f64, tail: impl Fn(f64) -> (f64, f64)) -> f64 {
    const LONGEST_STEP: f64 = 8.0;
    let mut at = start.clamp(1e-290, 1e290);
    let mut length_before = f64::INFINITY;
    for _ in 0..300 {
        let (log_tail, slope) = tail(at);
        let step = (log_p - log_tail) / slope;
        let step = if step.is_nan() { 0.0 } else { step.clamp(-LONGEST_STEP, LONGEST_STEP) };
        at *= step.exp();
        let length = step.abs();
        // done when the step is rounding, or small and no longer shrinking
        if length <= 2e-16 || (length < 1e-10 && length >= 0.5 * length_before) || at == 0.0 || at.is_infinite() {
            break;
        }
        length_before = length;
    }
    at
}

/// The root of an increasing function between `low` and `high`, searched from `start`; the function returns its value and slope.
///
/// A step that leaves the bracket is replaced by halving, so the search always ends.
pub(crate) fn root_between(function: impl Fn(f64) -> (f64, f64), low: f64, high: f64, start: f64) -> f64 {
    let (mut low, mut high) = (low, high);
    let mut at = start.clamp(low, high);
    for _ in 0..200 {
        let (value, slope) = function(at);
        if value == 0.0 {
            return at;
        }
        if value > 0.0 {
            high = at;
        } else {
            low = at;
        }
        let newton = at - value / slope;
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        if (next - at).abs() <= 4e-16 * next.abs() || next == at {
            return next;
        }
        at = next;
    }
    at
}

/// The root of an increasing function, to rounding: brackets in growing steps from a guess, then false position with the stale
/// end's weight lowered (Anderson & Bjorck's rule), halving where that is slow.
pub(crate) fn increasing_root(start: f64, step: f64, function: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (start, start);
    let (mut at_low, mut at_high) = (function(start), f64::NAN);
    at_high = if at_high.is_nan() { at_low } else { at_high };
    let mut step = step;
    while at_high < 0.0 && step.is_finite() {
        (low, at_low) = (high, at_high);
        high += step;
        at_high = function(high);
        step *= 2.0;
    }
    while at_low > 0.0 && step.is_finite() {
        (high, at_high) = (low, at_low);
        low -= step;
        at_low = function(low);
        step *= 2.0;
    }
    if !(at_low <= 0.0 && at_high >= 0.0) {
        return f64::NAN;
    }
    for count in 0..200 {
        if high - low <= 4e-16 * high.abs().max(low.abs()) || at_high - at_low == 0.0 {
            break;
        }
        let secant = high - at_high * ((high - low) / (at_high - at_low));
        let slow = count % 8 == 7 || !(secant > low && secant < high);
        let at = if slow { 0.5 * (low + high) } else { secant };
        let here = function(at);
        if here == 0.0 {
            return at;
        }
        if here > 0.0 {
            let share = 1.0 - here / at_high;
            if at_high > 0.0 && count > 0 {
                at_low *= if share > 0.0 { share } else { 0.5 };
            }
            (high, at_high) = (at, here);
        } else {
            let share = 1.0 - here / at_low;
            if at_low < 0.0 && count > 0 {
                at_high *= if share > 0.0 { share } else { 0.5 };
            }
            (low, at_low) = (at, here);
        }
    }
    if -at_low < at_high { low } else { high }
}

/// The value that a distribution on positive numbers exceeds with probability `p`, given its upper tail only, to 1e-10.
///
/// Brackets, then false position on the tail's logarithm, each step kept within the bracket.
pub(crate) fn quantile_of_upper_tail(p: f64, upper: impl Fn(f64) -> f64) -> f64 {
    if !(p > 0.0 && p < 1.0) {
        return f64::NAN;
    }
    let target = p.ln();
    let gap = |at: f64| target - upper(at).max(1e-300).ln();
    let (mut low, mut high) = (0.0, 4.0);
    let (mut gap_low, mut gap_high) = (target, gap(4.0));
    while gap_high < 0.0 && high < 1e12 {
        (low, gap_low) = (high, gap_high);
        high *= 2.0;
        gap_high = gap(high);
    }
    // false position with the stale end's weight halved (the Illinois rule), so that both ends close in
    let mut last = 0;
    for _ in 0..100 {
        let at = high - gap_high * (high - low) / (gap_high - gap_low);
        let here = gap(at);
        if here.abs() < 1e-13 || (high - low) <= 1e-11 * high {
            return at;
        }
        if here > 0.0 {
            (high, gap_high) = (at, here);
            gap_low = if last == 1 { 0.5 * gap_low } else { gap_low };
            last = 1;
        } else {
            (low, gap_low) = (at, here);
            gap_high = if last == -1 { 0.5 * gap_high } else { gap_high };
            last = -1;
        }
    }
    0.5 * (low + high)
}
