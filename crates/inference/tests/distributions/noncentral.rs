//! Noncentral t, F, chi-square and beta against sums at 450 digits.
//!
//! Values and script: `tests/reference/distributions/noncentral.py`.

use crate::reference::{Worst, number, rows};
use guardrow_inference::distribution::*;

fn ours(row: &[String]) -> (f64, f64) {
    let (first, second, third, point) = (number(&row[1]), number(&row[2]), number(&row[3]), number(&row[4]));
    match row[0].as_str() {
        "t" => (noncentral_t_log_lower(point, first, second), noncentral_t_log_upper(point, first, second)),
        "F" => {
            (noncentral_f_log_lower(point, first, second, third), noncentral_f_log_upper(point, first, second, third))
        }
        "chi_square" => (
            noncentral_chi_square_log_lower(point, first, second),
            noncentral_chi_square_log_upper(point, first, second),
        ),
        "beta" => (
            noncentral_beta_log_lower(point, first, second, third),
            noncentral_beta_log_upper(point, first, second, third),
        ),
        other => panic!("no functions for {other}"),
    }
}

#[test]
fn both_tails_are_right_to_1e_10_of_their_own_size() {
    let mut worst = Worst::default();
    for row in rows("noncentral.csv") {
        let (lower, upper) = ours(&row);
        for (side, found, expected) in [("lower", lower, number(&row[5])), ("upper", upper, number(&row[6]))] {
            // a difference of logarithms is a relative difference of probabilities
            worst.note(&format!("noncentral {} {side}", row[0]), (found - expected).abs(), || {
                format!("{row:?}: {found:e}")
            });
        }
    }
    worst.check(1e-10, 100);
}

#[test]
fn quantiles_lead_back_to_their_probability() {
    for p in [1e-12, 0.03, 0.5, 0.8, 1.0 - 1e-9] {
        for (df, delta) in [(1.0, 0.5), (4.5, -3.0), (27.0, 12.0), (f64::INFINITY, 2.0)] {
            let found = noncentral_t_lower(noncentral_t_quantile(p, df, delta), df, delta);
            assert!((found - p).abs() < 1e-12 * p.max(1e-2), "t {p} {df} {delta}: {found}");
        }
        for (a, b, lambda) in [(1.0, 3.0, 0.2), (6.0, 27.0, 14.0), (2.0, f64::INFINITY, 900.0)] {
            let found = noncentral_f_lower(noncentral_f_quantile(p, a, b, lambda), a, b, lambda);
            assert!((found - p).abs() < 1e-12 * p.max(1e-2), "F {p} {a} {b} {lambda}: {found}");
        }
    }
}

#[test]
fn no_noncentrality_is_too_large() {
    // Near its mean such an F is normal to three digits: half the probability lies on either side.
    for lambda in [1e5, 1e6, 1e8] {
        let (lower, upper) = (
            noncentral_f_lower(1.0 + lambda / 3.0, 3.0, f64::INFINITY, lambda),
            noncentral_f_upper(1.0 + lambda / 3.0, 3.0, f64::INFINITY, lambda),
        );
        assert!((lower - 0.5).abs() < 2e-3, "{lambda}: {lower}");
        assert!((lower + upper - 1.0).abs() < 1e-10, "{lambda}: {lower} {upper}");
    }
    for delta in [1e3, 1e5, 1e7] {
        let (lower, upper) = (noncentral_t_lower(delta, 30.0, delta), noncentral_t_upper(delta, 30.0, delta));
        assert!((lower + upper - 1.0).abs() < 1e-11, "{delta}: {lower} {upper}");
        // t / delta is then 1 / s: the chance that a chi-square is above its degrees of freedom
        assert!((lower / chi_square_upper(30.0, 30.0) - 1.0).abs() < 1e-2, "{delta}: {lower}");
    }
}
