//! The F distribution.

use super::chi_square::chi_square_upper;
use super::incomplete_beta::incomplete_beta;

const NEARLY_CHI_SQUARE: f64 = 1e9;

/// Probability of a value above `f`.
pub fn f_upper(f: f64, numerator_df: f64, denominator_df: f64) -> f64 {
    tails(f, numerator_df, denominator_df).1
}

/// Probability of a value at most `f`.
pub fn f_lower(f: f64, numerator_df: f64, denominator_df: f64) -> f64 {
    tails(f, numerator_df, denominator_df).0
}

fn tails(f: f64, numerator_df: f64, denominator_df: f64) -> (f64, f64) {
    if f <= 0.0 {
        return (0.0, 1.0);
    }
    if denominator_df > NEARLY_CHI_SQUARE {
        let upper = chi_square_upper(f * numerator_df, numerator_df);
        return (1.0 - upper, upper);
    }
    let explained = numerator_df * f;
    let total = explained + denominator_df;
    incomplete_beta(0.5 * numerator_df, 0.5 * denominator_df, explained / total, denominator_df / total)
}

/// The value below which lies probability `p`.
pub fn f_quantile(p: f64, numerator_df: f64, denominator_df: f64) -> f64 {
    if !((0.0..=1.0).contains(&p) && numerator_df > 0.0 && denominator_df > 0.0) {
        return f64::NAN;
    }
    super::solve::positive_quantile(p, |f| tails(f, numerator_df, denominator_df))
}
