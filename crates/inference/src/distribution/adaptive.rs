//! Integrals to nearly all digits, by halving panels until a Gauss rule on the whole and on its halves agree.

use super::gauss::GaussRule;
use std::sync::OnceLock;

/// Agreement asked for, relative to the whole integral.
const AGREEMENT: f64 = 1e-13;
/// Panels are not halved more often than this.
const DEEPEST: usize = 40;
/// Natural logarithm of what may be left out at the ends, relative to the peak.
const LEFT_OUT: f64 = 42.0;

fn rule() -> &'static GaussRule {
    static RULE: OnceLock<GaussRule> = OnceLock::new();
    RULE.get_or_init(|| GaussRule::of(12))
}

/// The integral of a function over panels with the given edges (rising); positive functions come out to about 1e-13 of their
/// integral.
pub(crate) fn integral_over(edges: &[f64], function: impl Fn(f64) -> f64) -> f64 {
    let rule = rule();
    let panels: Vec<(f64, f64, f64)> = edges
        .windows(2)
        .filter(|edge| edge[1] > edge[0])
        .map(|edge| (edge[0], edge[1], rule.integral(edge[0], edge[1], &function)))
        .collect();
    let size: f64 = panels.iter().map(|panel| panel.2.abs()).sum();
    panels.iter().map(|&(low, high, whole)| halved(low, high, whole, size, DEEPEST, &function)).sum()
}

fn halved(low: f64, high: f64, whole: f64, size: f64, depth: usize, function: &impl Fn(f64) -> f64) -> f64 {
    let middle = 0.5 * (low + high);
    let (left, right) = (rule().integral(low, middle, function), rule().integral(middle, high, function));
    // a first look may have missed nearly everything
    let size = size.max(left.abs() + right.abs());
    if (left + right - whole).abs() <= AGREEMENT * size || depth == 0 || middle <= low || middle >= high {
        return left + right;
    }
    halved(low, middle, left, size, depth - 1, function) + halved(middle, high, right, size, depth - 1, function)
}

/// Natural logarithm of the integral over the whole line of a function with one peak, given its logarithm.
///
/// The peak is looked for from `start` in steps of `scale`; a poor guess costs time only.
pub(crate) fn log_integral_of_peak(start: f64, scale: f64, log_function: impl Fn(f64) -> f64) -> f64 {
    let (peak, top) = peak(start, scale, &log_function);
    if !top.is_finite() {
        return top;
    }
    let far = |direction: f64| fallen(peak, top - LEFT_OUT, direction * scale, &log_function);
    let (low, high) = (far(-1.0), far(1.0));
    let near = |far: f64| fallen_within(peak, top - 2.0, far - peak, &log_function);
    let (left, right) = (near(low), near(high));
    // A plateau may end in a cliff right at the peak, which no rule over the plateau would see: the same small distance is laid
    // off on both sides.
    let least = 2.0 * left.abs().min(right.abs());
    let mut edges = vec![low, peak + left, peak - least, peak, peak + least, peak + right, high];
    edges.iter_mut().for_each(|edge| *edge = edge.clamp(low, high));
    edges.sort_by(f64::total_cmp);
    top + integral_over(&edges, |at| (log_function(at) - top).exp()).ln()
}

/// Climbs with growing steps, then narrows down by thirds; the place needs not be exact.
fn peak(start: f64, scale: f64, log_function: &impl Fn(f64) -> f64) -> (f64, f64) {
    let (mut at, mut top) = (start, log_function(start));
    let mut step = if log_function(start + 0.1 * scale) >= top { scale } else { -scale };
    let (mut low, mut high) = (at - step.abs(), at + step.abs());
    for _ in 0..200 {
        let next = log_function(at + step);
        if next <= top || next.is_nan() {
            high = at.max(at + step);
            low = low.min(at).min(at + step);
            break;
        }
        (low, high) = (at.min(at + step), (at + step).max(at));
        (at, top) = (at + step, next);
        step *= 1.7;
    }
    low = low.min(at - step.abs());
    high = high.max(at + step.abs());
    for _ in 0..60 {
        let (left, right) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        let (of_left, of_right) = (log_function(left), log_function(right));
        if of_left > top {
            (at, top) = (left, of_left);
        }
        if of_right > top {
            (at, top) = (right, of_right);
        }
        if of_left < of_right {
            low = left
        } else {
            high = right
        }
        // near the peak the values differ by the square of the distance
        if (of_left - top).abs().max((of_right - top).abs()) < 1e-3 {
            break;
        }
    }
    (at, top)
}

/// Where the function has fallen below a level, a little beyond at most.
fn fallen(peak: f64, level: f64, step: f64, log_function: &impl Fn(f64) -> f64) -> f64 {
    let mut far = step;
    for _ in 0..400 {
        let here = log_function(peak + far);
        if here < level || here.is_nan() {
            break;
        }
        far *= 1.6;
    }
    peak + fallen_within(peak, level, far, log_function)
}

/// The distance from the peak, up to `far`, at which the function has fallen below a level, to a fifth of it.
fn fallen_within(peak: f64, level: f64, far: f64, log_function: &impl Fn(f64) -> f64) -> f64 {
    let (mut near, mut far) = (far * 1e-9, far);
    while far.abs() > 1.2 * near.abs() {
        let ratio = far / near;
        // over the exponent while the two are far apart
        let middle = if ratio > 4.0 { near * ratio.sqrt() } else { 0.5 * (near + far) };
        if log_function(peak + middle) >= level { near = middle } else { far = middle }
    }
    far
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinks_and_cliffs_are_found() {
        let kink = integral_over(&[0.0, 1.0], |x| (x - 0.3).abs());
        assert!((kink - 0.29).abs() < 1e-13, "{kink}");
        let cliff = integral_over(&[0.0, 1.0], |x| 1.0 / (1.0 + ((x - 0.9) * 1e4).exp()));
        assert!((cliff - 0.9).abs() < 1e-12, "{cliff}");
    }

    #[test]
    fn a_peak_is_found_from_far_away() {
        for (centre, width) in [(0.0, 1.0), (40.0, 1.0), (-3e3, 0.1), (5.0, 200.0)] {
            let log = log_integral_of_peak(0.0, 1.0, |x| -0.5 * ((x - centre) / width).powi(2));
            let expected = width.ln() + crate::distribution::stirling::HALF_LOG_TWO_PI;
            assert!((log - expected).abs() < 1e-12, "{centre} {width}: {log} {expected}");
        }
        // exponential on one side, a cliff on the other
        let log = log_integral_of_peak(0.0, 1.0, |x| 0.1 * x - x.exp());
        assert!((log - libm::lgamma(0.1)).abs() < 1e-12);
        let log = log_integral_of_peak(0.0, 1.0, |x| if x > 3.0 { -1e4 * (x - 3.0) } else { 1e-3 * (x - 3.0) });
        assert!((log - 1000.0001_f64.ln()).abs() < 1e-12, "{log}");
    }
}
