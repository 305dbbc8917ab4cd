//! The studentised range: largest minus smallest of `k` means, in units of their estimated standard error.

use super::known_tail::{BEFORE, KnownTail, POINTS};
use super::normal::{normal_density, normal_lower};
use super::quadrature::EstimatedDeviation;
use super::solve::quantile_of_upper_tail;
use std::sync::OnceLock;

/// Steps per unit of the grid on which normal probabilities are tabled.
const PER_UNIT: usize = 16;
/// Normals beyond this are left out (probability 1e-17).
const NORMAL_END: usize = 9;
/// Up to this many means both grids may be twice as wide: the more means, the more sharply the smallest is placed.
const FEW_MEANS: usize = 16;
/// Ranges beyond this are tabled by the logarithm of their probability.
const NEAR_END: usize = 10;
/// From here on the probability is computed as it is, below as one minus that of a smaller range.
const RARE: usize = 5;

/// The studentised range of a number of means.
///
/// The range of `k` standard normals is tabled once, so that many probabilities for the same number of means are cheap.
/// Accuracy absolute 1e-10, relative 1e-7 as far out as numbers go; checked against other programs in the tests.
///
/// # Source
/// The double integral of Copenhaver & Holland (1988), J. Stat. Comput. Simul. 30:1-15, evaluated by trapezoid rules: on one
/// grid for the largest mean and the range, so that normal probabilities come from one table, and over `ln s`.
#[derive(Debug)]
pub struct StudentisedRange {
    /// The upper tail for known deviation; nothing for two means, whose range is a t.
    known: Option<KnownTail>,
}

/// [`StudentisedRange`] for one number of degrees of freedom.
#[derive(Debug, Clone)]
pub struct StudentisedRangeWithDf<'a> {
    /// Nothing for two means, or where the degrees of freedom make no sense.
    average: Option<(&'a KnownTail, EstimatedDeviation)>,
    df: f64,
}

/// The normal density and lower tail on the grid; the tail begins further out, by the widest range that is tabled.
struct NormalTable {
    density: Vec<f64>,
    lower: Vec<f64>,
}

/// How far the table of the lower tail is ahead of that of the density, in steps.
const AHEAD: usize = (NEAR_END + 2) * PER_UNIT;

fn normal_table() -> &'static NormalTable {
    static TABLE: OnceLock<NormalTable> = OnceLock::new();
    TABLE.get_or_init(|| {
        let steps = 2 * NORMAL_END * PER_UNIT;
        let place = |index: usize, first: f64| index as f64 / PER_UNIT as f64 - first;
        let first = NORMAL_END as f64;
        let density = (0..=steps).map(|index| normal_density(place(index, first)));
        let further = first + (AHEAD / PER_UNIT) as f64;
        let lower = (0..=steps + AHEAD).map(|index| normal_lower(place(index, further)));
        NormalTable { density: density.collect(), lower: lower.collect() }
    })
}

impl StudentisedRange {
    /// The range of `means` means, at least two.
    pub fn of(means: usize) -> Self {
        let means = means.max(2);
        Self { known: (means > 2).then(|| known_tail(means)) }
    }

    /// The same for one number of degrees of freedom for error, prepared for many values.
    pub fn with_df(&self, df: f64) -> StudentisedRangeWithDf<'_> {
        let known = self.known.as_ref().filter(|_| df > 0.0);
        let average = known.map(|known| (known, EstimatedDeviation::with_df(df, known)));
        StudentisedRangeWithDf { average, df }
    }

    /// Probability of a range above `q` with `df` degrees of freedom for error.
    pub fn upper(&self, q: f64, df: f64) -> f64 {
        self.with_df(df).upper(q)
    }

    /// The range that is exceeded with probability `p`, to about 1e-9.
    pub fn quantile_of_upper(&self, p: f64, df: f64) -> f64 {
        let with_df = self.with_df(df);
        quantile_of_upper_tail(p, |q| with_df.upper(q))
    }
}

impl StudentisedRangeWithDf<'_> {
    /// Probability of a range above `q`.
    pub fn upper(&self, q: f64) -> f64 {
        if q.is_nan() || self.df.is_nan() || self.df <= 0.0 {
            return f64::NAN;
        }
        if q <= 0.0 {
            return 1.0;
        }
        if q.is_infinite() {
            return 0.0;
        }
        match &self.average {
            None => super::t_two_sided(q / std::f64::consts::SQRT_2, self.df),
            Some((known, deviation)) => deviation.mean_of(known, q),
        }
    }
}

fn known_tail(means: usize) -> KnownTail {
    let coarser = if means <= FEW_MEANS { 2 } else { 1 };
    let per_unit = PER_UNIT / coarser;
    let count = NEAR_END * per_unit + POINTS - 1 - BEFORE;
    let upper = tabled_upper(means, coarser, count);
    // Points below zero for the polynomials: there the probability of a smaller range is an even or odd function, as `k - 1` is.
    let sign = if means % 2 == 1 { 1.0 } else { -1.0 };
    let below_zero = (1..=BEFORE).rev().map(|index| 1.0 - sign * (1.0 - upper[index]));
    let values: Vec<f64> = below_zero.chain(upper.iter().copied()).collect();
    KnownTail::of(0.0, per_unit as f64, &values, 0.25, move |w| far_upper(means, w))
}

/// Probability of a range above `w` at every `coarser`-th `w` of the grid, `count` of them.
///
/// With `a = Phi(u)` and `b = Phi(u) - Phi(u - w)`, where `u` is the largest, it is `1 - k int phi(u) b^(k-1) du` or
/// `k int phi(u) [a^(k-1) - b^(k-1)] du`. The integral runs over every `2 coarser`-th point; the trapezoid rule needs no more.
fn tabled_upper(means: usize, coarser: usize, count: usize) -> Vec<f64> {
    let NormalTable { density, lower } = normal_table();
    let stride = 2 * coarser;
    let factor = means as f64 * stride as f64 / PER_UNIT as f64;
    let every = |values: &[f64]| -> Vec<f64> { values.iter().step_by(stride).copied().collect() };
    let (density, a) = (every(density), every(&lower[AHEAD..]));
    let mut b = a.clone();
    (0..count)
        .map(|range| {
            let beyond = every(&lower[AHEAD - range * coarser..lower.len() - range * coarser]);
            for ((b, a), beyond) in b.iter_mut().zip(&a).zip(&beyond) {
                *b = a - beyond;
            }
            if range * coarser < RARE * PER_UNIT {
                1.0 - factor * integral_of_power(&density, &mut b, means - 1)
            } else {
                let outside = density.iter().zip(&beyond).map(|(density, beyond)| density * beyond).collect();
                factor * integral_of_difference(outside, &a, &mut b, means - 1)
            }
        })
        .collect()
}

/// `sum of weight b^n`; all elements at once, so that the loops run in vectors.
fn integral_of_power(weights: &[f64], b: &mut [f64], n: usize) -> f64 {
    let mut product = weights.to_vec();
    let mut rest = n;
    while rest > 0 {
        if rest % 2 == 1 {
            product.iter_mut().zip(b.iter()).for_each(|(product, b)| *product *= b);
        }
        rest /= 2;
        b.iter_mut().for_each(|b| *b *= *b);
    }
    product.iter().sum()
}

/// `sum of weight (a^n - b^n) / (a - b)`, without a difference: with `S_n` for the quotient, `S_2m = S_m (a^m + b^m)` and
/// `S_(m+1) = a S_m + b^m`.
fn integral_of_difference(weights: Vec<f64>, a: &[f64], b: &mut [f64], n: usize) -> f64 {
    let each = weights.iter().zip(a).zip(b.iter()).map(|((weight, &a), &b)| {
        let (mut quotient, mut a_power, mut b_power) = (1.0, a, b);
        for bit in (0..n.ilog2()).rev() {
            quotient *= a_power + b_power;
            a_power *= a_power;
            b_power *= b_power;
            if n >> bit & 1 == 1 {
                quotient = a * quotient + b_power;
                a_power *= a;
                b_power *= b;
            }
        }
        weight * quotient
    });
    each.sum()
}

/// `k int phi(u) {Phi(u)^(k-1) - [Phi(u) - Phi(u - w)]^(k-1)} du`, every term positive, around its peak near `w / 2`.
fn far_upper(means: usize, w: f64) -> f64 {
    const STEP: f64 = 0.35;
    let power = (means - 1) as f64;
    let term = |u: f64| {
        let upper = normal_lower(u);
        let share = -(power * (-normal_lower(u - w) / upper).ln_1p()).exp_m1();
        normal_density(u) * upper.powf(power) * share
    };
    let sum: f64 = (-22..=22).map(|index| term(0.5 * w + STEP * f64::from(index))).sum();
    means as f64 * STEP * sum
}
