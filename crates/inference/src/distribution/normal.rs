//! The standard normal distribution.

use super::solve::increasing_root;
use std::f64::consts::{FRAC_1_SQRT_2, PI};

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
    // On the logarithm of the tail the curve is nearly a parabola, so Newton's steps are safe far out.
    let target = p.ln();
    let log_tail = |z: f64| (normal_lower(z).ln() - target, normal_density(z) / normal_lower(z));
    increasing_root(log_tail, -38.5, 0.0, first_guess(p))
}

/// Good to 4e-4 (Abramowitz & Stegun 26.2.23, from memory).
fn first_guess(p: f64) -> f64 {
    let t = (-2.0 * p.ln()).sqrt();
    let (above, below) =
        (2.515517 + t * (0.802853 + t * 0.010328), 1.0 + t * (1.432788 + t * (0.189269 + t * 0.001308)));
    above / below - t
}
