//! Comparisons of several means with one control: the largest of correlated t statistics.

use super::factor_form::FactorForm;
use super::general_form::{GeneralForm, MOST_STATISTICS};
use super::known_tail::{BEFORE, KnownTail, POINTS};
use super::normal::{normal_density, normal_lower, normal_upper};
use super::quadrature::EstimatedDeviation;
use super::solve::quantile_of_upper_tail;
use crate::matrix::Matrix;

/// The control's deviation is integrated this far beyond where the statistics reach the limit (probability 1e-17 beyond).
const END: f64 = 8.6;
/// Limits up to this are tabled as they are, those beyond by their logarithm.
const NEAR_END: f64 = 6.0;
/// Where the table of a one-sided limit begins: the chance to be below is nothing.
const ONE_SIDED_START: f64 = -9.0;
/// Below this one-sided limit the chance that three and more are inside is below 1e-9, whatever the correlations.
const SURELY_OUTSIDE: f64 = -6.5;
/// Steps per unit of the table.
const PER_UNIT: f64 = 16.0;
/// With a smaller own part of some statistic the table would miss how it follows the control, and each value is integrated.
const SMALLEST_OWN_PART: f64 = 0.3;
/// The series for what common factors leave is trusted when its terms of three links change no probability by more.
const SMALL_CHANGE: f64 = 1e-6;
/// Correlations nearer to product form than this are of product form, to rounding.
const PRODUCT_FORM: f64 = 1e-11;

/// Which large statistics count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    /// Large in absolute value.
    Both,
    /// Large and positive.
    Upper,
}

/// The largest of several t statistics with one estimated error: the joint distribution behind comparisons with a control, and
/// behind any set of comparisons whose correlations are known.
///
/// Correlations of product form `lambda_i lambda_j`, which independent means give whatever their replication, are integrated
/// exactly: absolute 1e-10, relative 1e-7 as far out as numbers go. So are those of two common factors. Correlations next to one or two
/// factors, as with plots lost or incomplete blocks, take a series for the difference (relative 1e-6). All others take a lattice: relative
/// 1e-6 for up to eight statistics, 1e-5 for more. Checked against nested quadrature and mvtnorm in the tests.
///
/// # Source
/// Dunnett (1955), JASA 50:1096-1121, and (1964), Biometrics 20:482-491, for the product form; Genz & Bretz (2009) for the
/// general one. Evaluated by trapezoid rules over the control's deviation and the logarithm of the estimated standard deviation.
#[derive(Debug)]
pub struct Dunnett {
    sides: Sides,
    known: Option<KnownTail>,
    is_product: bool,
}

impl Dunnett {
    /// Two-sided, with one `lambda` between -1 and 1 (both excluded) for each comparison.
    ///
    /// With independent means the statistic of treatment `i` against the control has
    /// `lambda_i^2 = variance of the control's mean / variance of the difference`.
    pub fn with(lambda: &[f64]) -> Self {
        Self::with_factors(lambda, Sides::Both)
    }

    /// The same for one side or both.
    pub fn with_factors(lambda: &[f64], sides: Sides) -> Self {
        let known = (lambda.len() > 1).then(|| product_tail(ProductForm::of(lambda, sides)));
        Self { sides, known, is_product: true }
    }

    /// For any covariance matrix of the compared differences, given by rows; nothing when one difference follows from the others, or
    /// there are more than a hundred that are not of product form.
    pub fn with_covariance(covariance: &[Vec<f64>], sides: Sides) -> Option<Self> {
        let size = covariance.len();
        let is_sound = |row: &Vec<f64>| row.len() == size && row.iter().all(|it| it.is_finite());
        if !covariance.iter().all(is_sound) || (0..size).any(|it| covariance[it][it] <= 0.0) {
            return None;
        }
        let mut correlation = Matrix::from_rows(covariance);
        for row in 0..size {
            for column in 0..size {
                correlation[(row, column)] /= (covariance[row][row] * covariance[column][column]).sqrt();
            }
        }
        Self::with_correlations(&correlation, sides)
    }

    /// The same for a correlation matrix.
    pub(crate) fn with_correlations(correlation: &Matrix, sides: Sides) -> Option<Self> {
        let (lambda, misfit) = product_form_near(correlation);
        if misfit < PRODUCT_FORM {
            return Some(Self::with_factors(&lambda, sides));
        }
        if correlation.rows > MOST_STATISTICS {
            return None;
        }
        // not only the series: a difference that follows from others has no place of its own
        crate::matrix::Cholesky::of(correlation)?;
        Some(Self { sides, known: Some(general_tail(correlation, &lambda, sides)?), is_product: false })
    }

    /// An approximation for any correlation matrix: its nearest product form.
    pub(crate) fn nearest_product_form(correlation: &Matrix, sides: Sides) -> Self {
        Self::with_factors(&product_form_near(correlation).0, sides)
    }

    /// Whether the correlations are of product form, so that no lattice was needed.
    pub fn is_product_form(&self) -> bool {
        self.is_product
    }

    /// Probability that some statistic is above `t` (in absolute value, when both sides count).
    pub fn upper(&self, t: f64, df: f64) -> f64 {
        if t.is_nan() || df.is_nan() || df <= 0.0 {
            return f64::NAN;
        }
        let t = if self.sides == Sides::Both { t.abs() } else { t };
        if t.is_infinite() {
            return if t > 0.0 { 0.0 } else { 1.0 };
        }
        match (&self.known, self.sides) {
            (None, Sides::Both) => super::t_two_sided(t, df),
            (None, Sides::Upper) => super::t_upper(t, df),
            (Some(known), _) => EstimatedDeviation::with_df(df, known).mean_of(known, t),
        }
    }

    /// The value that the largest statistic exceeds with probability `p`, to about 1e-9; one-sided for `p` up to one half.
    pub fn quantile_of_upper(&self, p: f64, df: f64) -> f64 {
        match (&self.known, self.sides) {
            (None, Sides::Both) => super::t_quantile_of_upper(0.5 * p, df),
            (None, Sides::Upper) => super::t_quantile_of_upper(p, df),
            (Some(known), _) => {
                if df.is_nan() || df <= 0.0 {
                    return f64::NAN;
                }
                let deviation = EstimatedDeviation::with_df(df, known);
                quantile_of_upper_tail(p, |t| deviation.mean_of(known, t))
            }
        }
    }
}

fn product_tail(form: ProductForm) -> KnownTail {
    if form.smallest_own_part() < SMALLEST_OWN_PART {
        return KnownTail::untabled(move |t| form.some_outside(t));
    }
    let (sides, comparisons) = (form.sides, form.comparisons());
    let values = tabled(sides, comparisons, |t| form.some_outside(t));
    KnownTail::of(start(sides), PER_UNIT, &values, 0.5, move |t| form.some_outside(t))
}

/// Correlations of any form: one or two factors and a series for what they leave, or else the lattice.
fn general_tail(correlation: &Matrix, lambda: &[f64], sides: Sides) -> Option<KnownTail> {
    let comparisons = correlation.rows as i32;
    for factors in [1, 2] {
        let form = FactorForm::fitted(correlation, factors, sides);
        let worst = |step: i32| {
            let limit = 0.5 * f64::from(step);
            form.some_outside(limit).1.abs()
        };
        let first_step = if sides == Sides::Both { 1 } else { -8 };
        let change = (first_step..12).map(worst).fold(0.0, f64::max);
        if change < SMALL_CHANGE {
            let values = tabled(sides, comparisons, |limit| form.some_outside(limit).0);
            return Some(KnownTail::of(start(sides), PER_UNIT, &values, 0.5, move |limit| form.some_outside(limit).0));
        }
    }
    let form = GeneralForm::of(correlation, lambda, sides)?;
    let margin = POINTS as f64 / PER_UNIT;
    let low = if sides == Sides::Both { 0.0 } else { SURELY_OUTSIDE };
    let near = form.some_outside(low, NEAR_END + margin);
    let values = tabled(sides, comparisons, near);
    Some(KnownTail::of(start(sides), PER_UNIT, &values, 0.5, move |t| form.some_far_outside(t)))
}

fn start(sides: Sides) -> f64 {
    if sides == Sides::Both { 0.0 } else { ONE_SIDED_START }
}

/// The values of a near table, with those beside it that its polynomials need.
fn tabled(sides: Sides, comparisons: i32, tail: impl Fn(f64) -> f64) -> Vec<f64> {
    let first = start(sides);
    let cells = ((NEAR_END - first) * PER_UNIT) as usize;
    let at = |index: usize| first + index as f64 / PER_UNIT;
    let inside: Vec<f64> = (0..cells + POINTS - 1 - BEFORE).map(|index| tail(at(index))).collect();
    let before: Vec<f64> = match sides {
        // Below zero the probability that all of m statistics are inside is odd or even as m is.
        Sides::Both => {
            let sign = if comparisons % 2 == 0 { 1.0 } else { -1.0 };
            (1..=BEFORE).rev().map(|index| 1.0 - sign * (1.0 - inside[index])).collect()
        }
        Sides::Upper => (1..=BEFORE).rev().map(|index| tail(first - index as f64 / PER_UNIT)).collect(),
    };
    [before, inside].concat()
}

/// Normal statistics `lambda_i z + sqrt(1 - lambda_i^2) e_i` with a common `z`, the control's deviation.
#[derive(Debug, Clone)]
pub(crate) struct ProductForm {
    sides: Sides,
    /// Each different factor with the number of comparisons that have it.
    factors: Vec<(f64, i32)>,
}

impl ProductForm {
    pub fn of(lambda: &[f64], sides: Sides) -> Self {
        let mut factors: Vec<(f64, i32)> = Vec::new();
        for &value in lambda {
            // Correlation one would mean that two comparisons are the same; kept just inside. Both sides make the sign idle.
            let value = value.clamp(-0.999_999, 0.999_999);
            let value = if sides == Sides::Both { value.abs() } else { value };
            match factors.iter_mut().find(|(known, _)| (known - value).abs() < 1e-14) {
                Some((_, count)) => *count += 1,
                None => factors.push((value, 1)),
            }
        }
        Self { sides, factors }
    }

    fn comparisons(&self) -> i32 {
        self.factors.iter().map(|(_, count)| count).sum()
    }

    /// The nearer a factor is to one, the more sharply its statistic follows the control.
    fn smallest_own_part(&self) -> f64 {
        self.factors.iter().map(|(lambda, _)| (1.0 - lambda * lambda).sqrt()).fold(1.0, f64::min)
    }

    /// Probability that some statistic is beyond `t`.
    pub fn some_outside(&self, t: f64) -> f64 {
        let largest = self.factors.iter().map(|(lambda, _)| lambda.abs()).fold(0.0, f64::max);
        let step = 0.22 * (self.smallest_own_part() / largest.max(0.01)).min(1.0);
        let count = ((END + largest * t.max(0.0)) / step).ceil() as usize;
        let mean = |z: f64| normal_density(z) * self.given(z, t);
        let points = (1..=count).map(|index| step * index as f64);
        let beside: f64 = match self.sides {
            Sides::Both => points.map(|z| 2.0 * mean(z)).sum(),
            Sides::Upper => points.map(|z| mean(z) + mean(-z)).sum(),
        };
        step * (beside + mean(0.0))
    }

    /// Given the control's deviation `z`, the probability that some statistic is beyond `t`.
    fn given(&self, z: f64, t: f64) -> f64 {
        let log_inside = |&(lambda, count): &(f64, i32)| {
            let rest = (1.0 - lambda * lambda).sqrt();
            let above = normal_upper((t - lambda * z) / rest);
            let below = if self.sides == Sides::Both { normal_lower((-t - lambda * z) / rest) } else { 0.0 };
            f64::from(count) * (-(above + below)).ln_1p()
        };
        let total: f64 = self.factors.iter().map(log_inside).sum();
        -total.exp_m1()
    }
}

/// Factors `lambda` with correlations near `lambda_i lambda_j`, and the largest miss.
///
/// Each factor in turn is set to its least-squares value given the others, which settles on the nearest product form; the start
/// is exact where three correlations determine each factor.
fn product_form_near(correlation: &Matrix) -> (Vec<f64>, f64) {
    let size = correlation.rows;
    if size == 1 {
        return (vec![0.0], 0.0);
    }
    let off = (0..size).flat_map(|i| (0..i).map(move |j| (i, j)));
    let miss = |lambda: &[f64]| {
        off.clone().map(|(i, j)| (correlation[(i, j)] - lambda[i] * lambda[j]).abs()).fold(0.0, f64::max)
    };
    if size == 2 {
        let root = correlation[(0, 1)].abs().sqrt();
        return (vec![root, correlation[(0, 1)].signum() * root], 0.0);
    }
    let mut lambda: Vec<f64> = (0..size).map(|i| start_from_triples(correlation, i)).collect();
    for _ in 0..500 {
        let before = lambda.clone();
        if miss(&lambda) < 1e-14 {
            break;
        }
        for i in 0..size {
            let others = (0..size).filter(|&j| j != i);
            let (above, below) = others.fold((0.0, 0.0), |(above, below), j| {
                (above + correlation[(i, j)] * lambda[j], below + lambda[j] * lambda[j])
            });
            lambda[i] = (above / below).clamp(-0.99, 0.99);
        }
        if before.iter().zip(&lambda).all(|(a, b)| (a - b).abs() < 1e-15) {
            break;
        }
    }
    let misfit = miss(&lambda);
    (lambda, misfit)
}

/// `r_ij r_ik / r_jk` over the neighbours of `i` is its squared factor, where the product form holds; the sign is that of its
/// correlation with the statistic it is most correlated with, counted from the first.
fn start_from_triples(correlation: &Matrix, i: usize) -> f64 {
    let size = correlation.rows;
    let (mut sum, mut count) = (0.0, 0.0);
    for j in (0..size).filter(|&j| j != i) {
        for k in (j + 1..size).filter(|&k| k != i) {
            let below = correlation[(j, k)];
            if below.abs() > 1e-6 {
                sum += correlation[(i, j)] * correlation[(i, k)] / below;
                count += 1.0;
            }
        }
    }
    let square: f64 = if count > 0.0 { sum / count } else { 0.25 };
    let sign = if i == 0 { 1.0 } else { correlation[(i, 0)].signum() };
    sign * square.clamp(1e-4, 0.98).sqrt()
}
