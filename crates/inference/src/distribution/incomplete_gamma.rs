//! The regularised incomplete gamma function.

use super::part::Part;
use super::stirling::{log_gamma_front, log_less_argument};
use super::tail_integral::{NOTHING, mass_beyond};

/// From here on the density is integrated directly: series and fraction need some multiple of the root of `a` terms.
const LARGE: f64 = 250.0;

/// The gamma distribution with shape `a` (positive) and scale one, at `x`.
///
/// # Source
/// Series below `a + 1`, Legendre's continued fraction above (Abramowitz & Stegun 6.5.29 and 6.5.31, from memory), and for
/// large `a` Gauss's rule on the density; checked against 34-digit values in the tests.
pub(crate) fn incomplete_gamma(a: f64, x: f64) -> Part {
    if a.is_nan() || x.is_nan() || a <= 0.0 {
        return Part::NOT_A_NUMBER;
    }
    if x <= 0.0 {
        return Part::NOTHING_BELOW;
    }
    if x.is_infinite() {
        return Part::NOTHING_ABOVE;
    }
    let front = log_gamma_front(a, x);
    if front < NOTHING {
        return if x < a { Part::lower(front, 1.0) } else { Part::upper(front, 1.0) };
    }
    if a > LARGE {
        return by_density(a, x, front);
    }
    if x < a + 1.0 { Part::lower(front, series(a, x)) } else { Part::upper(front, fraction(a, x)) }
}

/// Integrates `t^(a-1) e^-t` away from its peak, over `t / x - 1`.
fn by_density(a: f64, x: f64, front: f64) -> Part {
    let beyond_peak = x - (a - 1.0);
    let (slope, curvature) = (beyond_peak.abs(), a - 1.0);
    let log_ratio = |u: f64| (a - 1.0) * log_less_argument(u) - u * beyond_peak;
    if beyond_peak >= 0.0 {
        Part::upper(front, mass_beyond(slope, curvature, f64::INFINITY, log_ratio))
    } else {
        Part::lower(front, mass_beyond(slope, curvature, 1.0, |u| log_ratio(-u)))
    }
}

/// `sum of x^n / (a (a+1) ... (a+n))`.
fn series(a: f64, x: f64) -> f64 {
    let (mut term, mut sum, mut n) = (1.0 / a, 1.0 / a, a);
    while term > sum * 1e-17 {
        n += 1.0;
        term *= x / n;
        sum += term;
    }
    sum
}

/// `1 / (x + 1 - a - 1 (1 - a) / (x + 3 - a - 2 (2 - a) / (x + 5 - a - ...)))` by the modified Lentz method.
fn fraction(a: f64, x: f64) -> f64 {
    let mut b = x + 1.0 - a;
    let mut c = 1e300;
    let mut d = 1.0 / b;
    let mut result = d;
    for step in 1..5_000 {
        let i = f64::from(step);
        let numerator = -i * (i - a);
        b += 2.0;
        d = 1.0 / (numerator * d + b);
        c = b + numerator / c;
        result *= d * c;
        if (d * c - 1.0).abs() < 3e-16 {
            break;
        }
    }
    result
}
