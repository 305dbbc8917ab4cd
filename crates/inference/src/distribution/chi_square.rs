//! The chi-square distribution.

use super::incomplete_gamma::incomplete_gamma;

/// Probability of a value at most `x`.
pub fn chi_square_lower(x: f64, df: f64) -> f64 {
    incomplete_gamma(0.5 * df, 0.5 * x).0
}

/// Probability of a value above `x`.
pub fn chi_square_upper(x: f64, df: f64) -> f64 {
    incomplete_gamma(0.5 * df, 0.5 * x).1
}

/// The value below which lies probability `p`.
pub fn chi_square_quantile(p: f64, df: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    super::solve::positive_quantile(p, |x| incomplete_gamma(0.5 * df, 0.5 * x))
}
