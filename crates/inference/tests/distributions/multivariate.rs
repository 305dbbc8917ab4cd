//! Studentised range and the largest of correlated t against nested quadrature, scipy and R's mvtnorm.
//!
//! Values and scripts: `tests/reference/distributions/multivariate.py` and `mvtnorm.R`.

use crate::reference::{Worst, number, relative, rows};
use guardrow_inference::distribution::*;
use std::collections::BTreeMap;

fn numbers(joined: &str) -> Vec<f64> {
    joined.split(';').map(number).collect()
}

/// Correlations with two factors.
fn two_factors(which: &str) -> Vec<Vec<f64>> {
    let (lambda, mu) = which.split_once('|').expect("two lists of factors");
    let (lambda, mu) = (numbers(lambda), numbers(mu));
    let correlation = |i: usize, j: usize| if i == j { 1.0 } else { lambda[i] * lambda[j] + mu[i] * mu[j] };
    (0..lambda.len()).map(|i| (0..lambda.len()).map(|j| correlation(i, j)).collect()).collect()
}

/// A distribution that is asked at many points: made once for all rows with the same `which`.
enum Largest {
    Range(StudentisedRange),
    Correlated(Dunnett),
}

impl Largest {
    fn of(function: &str, which: &str) -> Self {
        let sides = if function.starts_with("largest_absolute") { Sides::Both } else { Sides::Upper };
        match function {
            "range" | "scipy_range" => Self::Range(StudentisedRange::of(which.parse().expect("a number of means"))),
            "largest" | "largest_absolute" => Self::Correlated(Dunnett::with_factors(&numbers(which), sides)),
            _ => {
                let made =
                    Dunnett::with_covariance(&two_factors(which), sides).expect("no statistic follows from others");
                assert!(!made.is_product_form());
                Self::Correlated(made)
            }
        }
    }

    fn upper(&self, point: f64, df: f64) -> f64 {
        match self {
            Self::Range(range) => range.upper(point, df),
            Self::Correlated(largest) => largest.upper(point, df),
        }
    }
}

/// The relative misses and the absolute ones of the chosen functions.
fn compare(file: &str, chosen: impl Fn(&str) -> bool) -> (Worst, Worst) {
    let (mut of_size, mut absolute) = (Worst::default(), Worst::default());
    let mut made: Option<(String, Largest)> = None;
    for row in rows(file).iter().filter(|row| chosen(&row[0])) {
        let (function, which) = (&row[0], &row[3]);
        let key = format!("{function} {which}");
        if made.as_ref().is_none_or(|(known, _)| *known != key) {
            made = Some((key, Largest::of(function, which)));
        }
        let Some((_, largest)) = &made else { continue };
        let (expected, found) = (number(&row[4]), largest.upper(number(&row[1]), number(&row[2])));
        absolute.note(function, (found - expected).abs(), || format!("{row:?}: {found:e}"));
        if expected > 1e-290 {
            of_size.note(&format!("{function}, relative"), relative(found, expected), || format!("{row:?}: {found:e}"));
        }
    }
    (of_size, absolute)
}

#[test]
fn studentised_range() {
    let (of_size, absolute) = compare("range.csv", |function| function == "range");
    absolute.check(1e-10, 300);
    of_size.check(1e-7, 300);
    // scipy promises less in the tail, and is compared where both are sure
    compare("range.csv", |function| function == "scipy_range").1.check(1e-10, 200);
}

#[test]
fn the_largest_of_t_with_correlations_of_product_form() {
    let (of_size, absolute) = compare("largest.csv", |function| ["largest", "largest_absolute"].contains(&function));
    absolute.check(2e-10, 100);
    of_size.check(1e-7, 50);
}

#[test]
fn the_largest_of_t_with_any_correlations() {
    let (of_size, absolute) = compare("largest.csv", |function| function.ends_with("two_factors"));
    absolute.check(1e-7, 24);
    of_size.check(1e-6, 24);
}

#[test]
fn rs_own_functions() {
    let (mut by_ptukey, mut by_integrate) = (Worst::default(), Worst::default());
    for row in rows("ptukey.csv") {
        let range = StudentisedRange::of(number(&row[2]) as usize);
        let df = if row[1] == "Inf" { f64::INFINITY } else { number(&row[1]) };
        let found = range.upper(number(&row[0]), df);
        by_integrate.note("R's integrate", (found - number(&row[4])).abs(), || format!("{row:?}: {found:e}"));
        // Probabilities near one ptukey gives as one.
        if number(&row[3]) < 1.0 {
            by_ptukey.note("ptukey", (found - number(&row[3])).abs(), || format!("{row:?}: {found:e}"));
        }
    }
    by_integrate.check(1e-9, 125);
    // ptukey itself is off by so much from R's integrate
    by_ptukey.check(3e-7, 100);

    let (mut worst, mut made) = (Worst::default(), BTreeMap::new());
    for row in rows("mvtnorm.csv") {
        let joint = made.entry([row[0].clone(), row[4].clone()]).or_insert_with(|| of_triangle(&row));
        let found = joint.upper(number(&row[1]), number(&row[2]));
        // in units of pmvt's own error, which holds in 99 of 100 cases
        let miss = (found - number(&row[5])).abs() / number(&row[6]);
        worst.note("mvtnorm, in its own errors", miss, || format!("{row:?}: {found:e}"));
    }
    worst.check(1.5, 24);
}

/// The distribution that a row of mvtnorm.csv names by the lower triangle of its correlations.
fn of_triangle(row: &[String]) -> Dunnett {
    let size = number(&row[3]) as usize;
    let mut below = numbers(&row[4]).into_iter();
    let mut matrix = vec![vec![1.0; size]; size];
    // R's lower triangle runs down the columns
    for (line, column) in (0..size).flat_map(|column| (column + 1..size).map(move |line| (line, column))) {
        let correlation = below.next().expect("a whole triangle");
        (matrix[line][column], matrix[column][line]) = (correlation, correlation);
    }
    let sides = if row[0] == "2" { Sides::Both } else { Sides::Upper };
    Dunnett::with_covariance(&matrix, sides).expect("no difference follows from others")
}
