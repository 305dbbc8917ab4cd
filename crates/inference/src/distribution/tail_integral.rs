//! The mass beyond a point of a smooth density, relative to the density there.
//!
//! For large parameters series and fractions need many terms, while the density is nearly normal: one Gauss rule over the stretch
//! in which it falls to nothing gives all digits.

use super::gauss::GaussRule;

/// Below this logarithm of a density the mass beyond is nothing, to the digits of the logarithm itself.
pub(crate) const NOTHING: f64 = -1e13;
/// Natural logarithm of what may be left out, relative to the density at the start.
const LEFT_OUT: f64 = 40.0;

/// `int exp(log_ratio(s)) ds` for `s` from 0 to `end` (may be infinite).
///
/// `log_ratio` is zero at zero and falls from there, `slope >= 0` as fast and with `curvature` (the negatives of its first two
/// derivatives at zero; the curvature may have either sign).
pub(crate) fn mass_beyond(slope: f64, curvature: f64, end: f64, log_ratio: impl Fn(f64) -> f64) -> f64 {
    let root = (slope * slope + 2.0 * LEFT_OUT * curvature.max(0.0)).sqrt();
    let mut reach = (2.0 * LEFT_OUT / (slope + root)).min(end);
    for _ in 0..100 {
        if reach >= end || log_ratio(reach) <= -LEFT_OUT + 3.0 {
            break;
        }
        reach = (1.3 * reach).min(end);
    }
    let rule = GaussRule::of_32();
    let middle = 0.3 * reach;
    let part = |low, high| rule.integral(low, high, |s| log_ratio(s).exp());
    part(0.0, middle) + part(middle, reach)
}
