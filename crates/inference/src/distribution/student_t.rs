//! Student's t.

use super::incomplete_beta::{incomplete_beta, log_beta};
use super::normal::{normal_quantile, normal_upper};
use super::solve::increasing_root;

/// Above this many degrees of freedom the normal distribution with its first correction is exact to rounding.
const NEARLY_NORMAL: f64 = 1e7;

/// Probability of a value above `t`.
pub fn t_upper(t: f64, df: f64) -> f64 {
    if t < 0.0 { 1.0 - upper_of_positive(-t, df) } else { upper_of_positive(t, df) }
}

/// Probability of a value at most `t`.
pub fn t_lower(t: f64, df: f64) -> f64 {
    t_upper(-t, df)
}

/// Probability of a value at least as far from zero as `t`.
pub fn t_two_sided(t: f64, df: f64) -> f64 {
    2.0 * upper_of_positive(t.abs(), df)
}

fn upper_of_positive(t: f64, df: f64) -> f64 {
    if df > NEARLY_NORMAL {
        // First term of the expansion in 1/df (Abramowitz & Stegun 26.7.8, from memory).
        return normal_upper(t * (1.0 - 1.0 / (4.0 * df)) / (1.0 + t * t / (2.0 * df)).sqrt());
    }
    let square = t * t;
    let (x, y) = (df / (df + square), square / (df + square));
    0.5 * incomplete_beta(0.5 * df, 0.5, x, y).0
}

/// The value below which lies probability `p`.
pub fn t_quantile(p: f64, df: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    if p < 0.5 {
        return -t_quantile_of_upper(p, df);
    }
    t_quantile_of_upper(1.0 - p, df)
}

/// The value that is exceeded with probability `upper`, at most one half.
fn t_quantile_of_upper(upper: f64, df: f64) -> f64 {
    if upper == 0.5 {
        return 0.0;
    }
    if upper == 0.0 {
        return f64::INFINITY;
    }
    if df.is_infinite() {
        return -normal_quantile(upper);
    }
    let target = upper.ln();
    let log_density_constant = -0.5 * df.ln() - log_beta(0.5, 0.5 * df);
    let below = |t: f64| {
        let tail = t_upper(t, df);
        let density = (log_density_constant - 0.5 * (df + 1.0) * (t * t / df).ln_1p()).exp();
        (target - tail.ln(), density / tail)
    };
    let start = first_guess(-normal_quantile(upper), df);
    let mut high = 2.0 * start;
    while below(high).0 < 0.0 && high < 1e150 {
        high *= 4.0;
    }
    increasing_root(below, 0.0, high, start)
}

/// From the normal quantile `z`, by two terms in 1/df (Abramowitz & Stegun 26.7.5, from memory).
fn first_guess(z: f64, df: f64) -> f64 {
    let square = z * z;
    z * (1.0 + (square + 1.0) / (4.0 * df) + ((5.0 * square + 16.0) * square + 3.0) / (96.0 * df * df))
}
