//! Roots of increasing functions, by Newton's steps kept within a bracket.

/// The root of an increasing function between `low` and `high`, searched from `start`; the function returns its value and slope.
///
/// A step that leaves the bracket is replaced by halving, so the search always ends.
pub(crate) fn increasing_root(function: impl Fn(f64) -> (f64, f64), low: f64, high: f64, start: f64) -> f64 {
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

/// The quantile of a distribution on positive numbers, given its lower and upper tail; by bisection on the tail that is
/// the smaller, over the exponent first.
pub(crate) fn positive_quantile(p: f64, tails: impl Fn(f64) -> (f64, f64)) -> f64 {
    if p == 0.0 {
        return 0.0;
    }
    if p == 1.0 {
        return f64::INFINITY;
    }
    let is_below = |value: f64| {
        let (lower, upper) = tails(value);
        if p < 0.5 { lower < p } else { upper > 1.0 - p }
    };
    let (mut low, mut high) = (1e-300_f64, 1e300_f64);
    while high / low > 1.0 + 2e-16 {
        let middle = (low.sqrt() * high.sqrt()).clamp(low, high);
        if middle == low || middle == high {
            break;
        }
        if is_below(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// The value that a distribution on positive numbers exceeds with probability `p`, given its upper tail only, to 1e-10.
///
/// Brackets, then secant steps on the tail's logarithm (nearly a straight line in the square root of its argument's square),
/// each kept within the bracket.
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
