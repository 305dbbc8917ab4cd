//! Normal, t, chi-square, gamma, F and beta against 34-digit values.
//!
//! Values and script: `tests/reference/distributions/classical.py`.

use crate::reference::{Worst, number, relative, rows};
use guardrow_inference::distribution::*;

/// Probabilities below this are compared by their logarithm only: they are close to the smallest numbers there are.
const SMALLEST: f64 = 1e-305;

const DISTRIBUTIONS: [&str; 6] = ["normal", "t", "chi_square", "gamma", "F", "beta"];

fn rows_of_kind(kind: &str) -> Vec<Vec<String>> {
    let all = DISTRIBUTIONS.iter().flat_map(|name| rows(&format!("classical/{name}.csv")));
    all.filter(|row| row[0] == kind).collect()
}

struct Functions {
    lower: fn(f64, f64, f64) -> f64,
    upper: fn(f64, f64, f64) -> f64,
    log_lower: fn(f64, f64, f64) -> f64,
    log_upper: fn(f64, f64, f64) -> f64,
    quantile: fn(f64, f64, f64) -> f64,
    quantile_of_upper: fn(f64, f64, f64) -> f64,
}

fn functions(distribution: &str) -> Functions {
    match distribution {
        "normal" => Functions {
            lower: |z, _, _| normal_lower(z),
            upper: |z, _, _| normal_upper(z),
            log_lower: |z, _, _| normal_log_lower(z),
            log_upper: |z, _, _| normal_log_upper(z),
            quantile: |p, _, _| normal_quantile(p),
            quantile_of_upper: |p, _, _| normal_quantile_of_upper(p),
        },
        "t" => Functions {
            lower: |t, df, _| t_lower(t, df),
            upper: |t, df, _| t_upper(t, df),
            log_lower: |t, df, _| t_log_lower(t, df),
            log_upper: |t, df, _| t_log_upper(t, df),
            quantile: |p, df, _| t_quantile(p, df),
            quantile_of_upper: |p, df, _| t_quantile_of_upper(p, df),
        },
        "chi_square" => Functions {
            lower: |x, df, _| chi_square_lower(x, df),
            upper: |x, df, _| chi_square_upper(x, df),
            log_lower: |x, df, _| chi_square_log_lower(x, df),
            log_upper: |x, df, _| chi_square_log_upper(x, df),
            quantile: |p, df, _| chi_square_quantile(p, df),
            quantile_of_upper: |p, df, _| chi_square_quantile_of_upper(p, df),
        },
        "gamma" => Functions {
            lower: |x, shape, _| gamma_lower(x, shape),
            upper: |x, shape, _| gamma_upper(x, shape),
            log_lower: |x, shape, _| gamma_log_lower(x, shape),
            log_upper: |x, shape, _| gamma_log_upper(x, shape),
            quantile: |p, shape, _| gamma_quantile(p, shape),
            quantile_of_upper: |p, shape, _| gamma_quantile_of_upper(p, shape),
        },
        "F" => Functions {
            lower: f_lower,
            upper: f_upper,
            log_lower: f_log_lower,
            log_upper: f_log_upper,
            quantile: f_quantile,
            quantile_of_upper: f_quantile_of_upper,
        },
        "beta" => Functions {
            lower: beta_lower,
            upper: beta_upper,
            log_lower: beta_log_lower,
            log_upper: beta_log_upper,
            quantile: beta_quantile,
            quantile_of_upper: beta_quantile_of_upper,
        },
        other => panic!("no functions for {other}"),
    }
}

#[test]
fn tails_are_right_to_1e_10_of_their_own_size_as_far_out_as_numbers_go() {
    let (mut plain, mut logarithms) = (Worst::default(), Worst::default());
    for row in rows_of_kind("tails") {
        let ours = functions(&row[1]);
        let (first, second, point) = (number(&row[2]), number(&row[3]), number(&row[4]));
        for (side, log, probability, log_probability) in [
            ("lower", number(&row[5]), ours.lower, ours.log_lower),
            ("upper", number(&row[6]), ours.upper, ours.log_upper),
        ] {
            let name = format!("{} {side}", row[1]);
            let found = probability(point, first, second);
            if log.exp() > SMALLEST {
                plain.note(&name, relative(found, log.exp()), || format!("{row:?}: {found:e}"));
            }
            let found = log_probability(point, first, second);
            // a logarithm's own rounding grows with it; a probability near one has a logarithm as small as the other tail
            let miss = (found - log).abs() / log.abs().max(1.0);
            let miss = if log > -1e-3 { (found / log - 1.0).abs() } else { miss };
            if log < -1e-305 {
                logarithms.note(&format!("log {name}"), miss, || format!("{row:?}: {found:e}"));
            }
        }
    }
    plain.check(1e-10, 10);
    logarithms.check(1e-10, 10);
}

#[test]
fn quantiles_are_right_to_1e_10() {
    let mut worst = Worst::default();
    for row in rows_of_kind("quantile") {
        let ours = functions(&row[1]);
        let (first, second, root) = (number(&row[2]), number(&row[3]), number(&row[4]));
        let (log_lower, log_upper) = (number(&row[5]), number(&row[6]));
        let (name, found) = if log_lower < log_upper {
            (format!("{} quantile", row[1]), (ours.quantile)(log_lower.exp(), first, second))
        } else {
            (format!("{} quantile of upper", row[1]), (ours.quantile_of_upper)(log_upper.exp(), first, second))
        };
        worst.note(&name, relative(found, root), || format!("{row:?}: {found:e}"));
    }
    worst.check(1e-10, 4);
}
