//! The standard normal distribution.

use super::stirling::HALF_LOG_TWO_PI;
use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Beyond this the tail's logarithm comes from Mills' ratio, since the tail itself will underflow.
const FAR: f64 = 6.0;

/// Density at `z`.
pub fn normal_density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * PI).sqrt()
}

/// Probability of a value at most `z`.
pub fn normal_lower(z: f64) -> f64 {
    0.5 * libm::erfc(-z * FRAC_1_SQRT_2)
}

/// Probability of a value above `z`.
pub fn normal_upper(z: f64) -> f64 {
    0.5 * libm::erfc(z * FRAC_1_SQRT_2)
}

/// Natural logarithm of [`normal_lower`], also where that underflows.
pub fn normal_log_lower(z: f64) -> f64 {
    normal_log_upper(-z)
}

/// Natural logarithm of [`normal_upper`], also where that underflows.
pub fn normal_log_upper(z: f64) -> f64 {
    if z > FAR {
        -0.5 * z * z - HALF_LOG_TWO_PI + mills_ratio(z).ln()
    } else if z > -1.0 {
        normal_upper(z).ln()
    } else {
        (-normal_lower(z)).ln_1p()
    }
}

/// Tail over density, by Laplace's continued fraction `1 / (z + 1 / (z + 2 / (z + 3 / ...)))` (Abramowitz & Stegun 26.2.14).
fn mills_ratio(z: f64) -> f64 {
    if z.is_infinite() {
        return 1.0 / z;
    }
    // 40 terms settle all digits from z = 6 on
    1.0 / (1..=40).rev().fold(z, |below, n| z + f64::from(n) / below)
}

/// The value that is exceeded with probability `1 - p`.
///
/// `p` outside 0 to 1 gives NaN; 0 and 1 give the infinities.
pub fn normal_quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if p > 0.5 {
        return -normal_quantile(1.0 - p);
    }
    if p == 0.0 {
        return f64::NEG_INFINITY;
    }
    // On the logarithm of the tail the curve is nearly a parabola, bent so that Newton's steps come from one side.
    let target = p.ln();
    let mut z = first_guess(p);
    for _ in 0..20 {
        let log_tail = normal_log_lower(z);
        let slope = (-0.5 * z * z - HALF_LOG_TWO_PI - log_tail).exp();
        let step = (log_tail - target) / slope;
        z -= step;
        if step.abs() <= 1e-15 * z.abs().max(1e-3) {
            break;
        }
    }
    z
}

/// The value that is exceeded with probability `p`.
pub fn normal_quantile_of_upper(p: f64) -> f64 {
    -normal_quantile(p)
}

/// Good to 4e-4 (Abramowitz & Stegun 26.2.23, from memory).
fn first_guess(p: f64) -> f64 {
    let t = (-2.0 * p.ln()).sqrt();
    let (above, below) =
        (2.515517 + t * (0.802853 + t * 0.010328), 1.0 + t * (1.432788 + t * (0.189269 + t * 0.001308)));
    above / below - t
}
