//! Student's t.

use super::incomplete_beta::{BetaPoint, incomplete_beta};
use super::normal::{normal_log_upper, normal_quantile, normal_upper};
use super::part::Part;
use super::stirling::{HALF_LOG_TWO_PI, stirling_rest};
use super::tail_integral::mass_beyond;
use std::f64::consts::LN_2;

/// With more degrees of freedom the density is integrated directly.
const MANY: f64 = 300.0;

/// Probability of a value above `t`.
pub fn t_upper(t: f64, df: f64) -> f64 {
    let outside = beyond(t, df).value;
    if t < 0.0 { 1.0 - outside } else { outside }
}

/// Probability of a value at most `t`.
pub fn t_lower(t: f64, df: f64) -> f64 {
    t_upper(-t, df)
}

/// Probability of a value at least as far from zero as `t`.
pub fn t_two_sided(t: f64, df: f64) -> f64 {
    2.0 * beyond(t, df).value
}

/// Natural logarithm of [`t_upper`], also where that underflows.
pub fn t_log_upper(t: f64, df: f64) -> f64 {
    let outside = beyond(t, df);
    if t < 0.0 { (-outside.value).ln_1p() } else { outside.log }
}

/// Natural logarithm of [`t_lower`], also where that underflows.
pub fn t_log_lower(t: f64, df: f64) -> f64 {
    t_log_upper(-t, df)
}

/// The value below which lies probability `p`.
pub fn t_quantile(p: f64, df: f64) -> f64 {
    if p > 0.5 { t_quantile_of_upper(1.0 - p, df) } else { -t_quantile_of_upper(p, df) }
}

/// The value that is exceeded with probability `p`.
pub fn t_quantile_of_upper(p: f64, df: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    if p > 0.5 {
        return -t_quantile_of_upper(1.0 - p, df);
    }
    if p == 0.5 {
        return 0.0;
    }
    if p == 0.0 {
        return f64::INFINITY;
    }
    if df.is_infinite() {
        return -normal_quantile(p);
    }
    super::solve::quantile_above_zero(p.ln(), first_guess(p, df), |t| (beyond(t, df).log, log_density(t, df)))
}

/// The probability beyond `|t|` on one side, at most one half, and its logarithm.
struct Beyond {
    value: f64,
    log: f64,
}

fn beyond(t: f64, df: f64) -> Beyond {
    let part = outside(t.abs(), df);
    Beyond { value: 0.5 * part.tails().0, log: part.log_tails().0 - LN_2 }
}

/// The distribution whose lower part is the probability beyond `t` on both sides.
fn outside(t: f64, df: f64) -> Part {
    if t.is_nan() || df.is_nan() || df <= 0.0 {
        return Part::NOT_A_NUMBER;
    }
    if t.is_infinite() {
        return Part::NOTHING_BELOW;
    }
    if df.is_infinite() {
        return if t < 6.0 { Part::lower(0.0, 2.0 * normal_upper(t)) } else { Part::lower(normal_log_upper(t), 2.0) };
    }
    let square = t * t;
    if square.is_infinite() {
        // the density falls as a power of t
        return Part::lower(log_density(t, df) + t.ln() - df.ln(), 2.0);
    }
    if df > MANY {
        return by_density(t, df);
    }
    let (x, y) = (df / (df + square), square / (df + square));
    incomplete_beta(&BetaPoint { a: 0.5 * df, b: 0.5, x, y, excess: 0.5 * (x - df * y) })
}

fn by_density(t: f64, df: f64) -> Part {
    let length = df + t * t;
    let (slope, curvature) = ((df + 1.0) * t / length, (df + 1.0) * (df - t * t) / (length * length));
    let log_ratio = |s: f64| -0.5 * (df + 1.0) * (s / length * (2.0 * t + s)).ln_1p();
    Part::lower(log_density(t, df), 2.0 * mass_beyond(slope, curvature, f64::INFINITY, log_ratio))
}

/// Natural logarithm of the density.
pub(crate) fn log_density(t: f64, df: f64) -> f64 {
    if df.is_infinite() {
        return -0.5 * t * t - HALF_LOG_TWO_PI;
    }
    let a = 0.5 * df;
    // ln [Gamma(a + 1/2) / (Gamma(a) sqrt a)]
    let log_gammas = if a > 20.0 {
        let inverse = 1.0 / a;
        let square = inverse * inverse;
        // from Stirling's series of both (own expansion, checked against the plain form in the tests)
        inverse * (-1.0 / 8.0 + square * (1.0 / 192.0 - square * (1.0 / 640.0 - square * 17.0 / 14336.0)))
    } else {
        // Gamma(a + 1/2) = Gamma(a + 3/2) / (a + 1/2)
        let (upper, lower) = (a - 0.5, a);
        if upper > 0.0 {
            stirling_rest(upper) - stirling_rest(lower) + a * (upper / lower).ln() + 0.5
        } else {
            libm::lgamma(a + 0.5) - libm::lgamma(a + 1.0) + 0.5 * a.ln()
        }
    };
    log_gammas - HALF_LOG_TWO_PI + log_shape(t, df)
}

/// `ln (1 + t^2 / df)^(-(df + 1) / 2)`
fn log_shape(t: f64, df: f64) -> f64 {
    let square = t * t / df;
    let log = if square.is_finite() { square.ln_1p() } else { 2.0 * t.abs().ln() - df.ln() };
    -0.5 * (df + 1.0) * log
}

/// From the normal quantile by two terms in 1/df (Abramowitz & Stegun 26.7.5, from memory), or from the power by which the tail
/// falls.
fn first_guess(p: f64, df: f64) -> f64 {
    let z = -normal_quantile(p);
    let square = z * z;
    let near = z * (1.0 + (square + 1.0) / (4.0 * df) + ((5.0 * square + 16.0) * square + 3.0) / (96.0 * df * df));
    // tail ~ c t^-df with the density's constant
    let far = ((log_density(0.0, df) + 0.5 * (df + 1.0) * df.ln() - df.ln() - p.ln()) / df).min(600.0).exp();
    if square > 2.0 * df { far } else { near }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_density_has_one_constant_by_both_formulas() {
        for df in [0.2_f64, 0.9, 1.0, 5.0, 39.9, 40.1, 90.0] {
            let plain =
                libm::lgamma(0.5 * (df + 1.0)) - libm::lgamma(0.5 * df) - 0.5 * (df * std::f64::consts::PI).ln();
            assert!((log_density(0.0, df) - plain).abs() < 1e-13, "{df}: {} {plain}", log_density(0.0, df));
        }
        assert!((log_density(0.0, 1.0) + std::f64::consts::PI.ln()).abs() < 2e-15);
    }
}
