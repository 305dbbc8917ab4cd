//! The studentised range: largest minus smallest of `k` means, in units of their estimated standard error.

use super::normal::{normal_density, normal_lower};
use super::quadrature::EstimatedDeviation;
use super::solve::quantile_of_upper_tail;
use std::sync::OnceLock;

/// Steps per unit of the grid on which normal probabilities are tabled.
const PER_UNIT: usize = 16;
/// Normals beyond this are left out (probability 1e-17).
const NORMAL_END: usize = 9;
/// Points of the local polynomial that reads between the tabled ranges.
const READ_POINTS: usize = 14;
/// Points that lie before the one read.
const BEFORE: usize = READ_POINTS / 2 - 1;
/// Up to this many means both grids may be twice as wide: the more means, the more sharply the smallest is placed.
const FEW_MEANS: usize = 16;

/// The studentised range of a number of means.
///
/// The range of `k` standard normals is tabled once, so that many probabilities for the same number of means are cheap.
/// Accuracy absolute 1e-10 or better, checked against scipy in the tests.
///
/// # Source
/// The double integral of Copenhaver & Holland (1988), J. Stat. Comput. Simul. 30:1-15, evaluated by trapezoid rules: on one
/// grid for the smallest mean and the range, so that normal probabilities come from one table, and over `ln s`.
#[derive(Debug, Clone)]
pub struct StudentisedRange {
    means: usize,
    /// Steps per unit of the tabled range.
    per_unit: usize,
    /// Probability that the range of standard normals is above `(index - BEFORE) / per_unit`, continued below zero.
    upper: Vec<f64>,
}

/// [`StudentisedRange`] for one number of degrees of freedom.
#[derive(Debug, Clone)]
pub struct StudentisedRangeWithDf<'a> {
    range: &'a StudentisedRange,
    deviation: EstimatedDeviation,
    df: f64,
}

struct NormalTable {
    density: Vec<f64>,
    lower: Vec<f64>,
}

fn normal_table() -> &'static NormalTable {
    static TABLE: OnceLock<NormalTable> = OnceLock::new();
    TABLE.get_or_init(|| {
        let points = (0..=2 * NORMAL_END * PER_UNIT).map(|index| index as f64 / PER_UNIT as f64 - NORMAL_END as f64);
        let (density, lower) = points.map(|z| (normal_density(z), normal_lower(z))).unzip();
        NormalTable { density, lower }
    })
}

impl StudentisedRange {
    /// The range of `means` means, at least two.
    pub fn of(means: usize) -> Self {
        let means = means.max(2);
        let coarser = if means <= FEW_MEANS { 2 } else { 1 };
        let upper = if means == 2 { Vec::new() } else { tabled_upper(means, coarser) };
        Self { means, per_unit: PER_UNIT / coarser, upper }
    }

    /// The same for one number of degrees of freedom for error, prepared for many values.
    pub fn with_df(&self, df: f64) -> StudentisedRangeWithDf<'_> {
        let needs_rule = self.means > 2 && df > 0.0;
        let deviation = EstimatedDeviation::with_df(if needs_rule { df } else { f64::INFINITY });
        StudentisedRangeWithDf { range: self, deviation, df }
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

    /// Reads the table by a polynomial through the points around `w`.
    fn range_upper(&self, w: f64) -> f64 {
        let at = w * self.per_unit as f64;
        if at + (READ_POINTS as f64) >= self.upper.len() as f64 {
            return 0.0;
        }
        let first = at as usize;
        let from_first = at - first as f64 + BEFORE as f64;
        interpolated(&self.upper[first..first + READ_POINTS], from_first)
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
        if self.range.means == 2 {
            return super::t_two_sided(q / std::f64::consts::SQRT_2, self.df);
        }
        self.deviation.mean_of(|s| self.range.range_upper(q * s)).clamp(0.0, 1.0)
    }
}

/// `1 - k int phi(u) [Phi(u) - Phi(u - w)]^(k-1) du` at every `coarser`-th `w` of the grid, up to where it vanishes.
///
/// The integral runs over every `2 coarser`-th point; the trapezoid rule needs no more.
fn tabled_upper(means: usize, coarser: usize) -> Vec<f64> {
    let NormalTable { density, lower } = normal_table();
    let power = i32::try_from(means - 1).unwrap_or(i32::MAX);
    let stride = 2 * coarser;
    let factor = means as f64 * stride as f64 / PER_UNIT as f64;
    let within = |range: usize| -> f64 {
        let points = (0..density.len()).step_by(stride).map(|index| {
            let below = if index >= range { lower[index - range] } else { 0.0 };
            density[index] * (lower[index] - below).powi(power)
        });
        factor * points.sum::<f64>()
    };
    let mut upper = vec![1.0];
    while upper.last().is_some_and(|&last| last > 1e-15) && upper.len() * coarser < 2 * NORMAL_END * PER_UNIT {
        upper.push((1.0 - within(upper.len() * coarser)).max(0.0));
    }
    // Points on both sides for the polynomial: nothing beyond, and below zero the probability of a smaller range is an even or
    // odd function, as `k - 1` is.
    upper.resize(upper.len() + READ_POINTS, 0.0);
    let sign = if power % 2 == 0 { 1.0 } else { -1.0 };
    let below_zero = (1..=BEFORE).rev().map(|index| 1.0 - sign * (1.0 - upper[index]));
    below_zero.chain(upper.iter().copied()).collect()
}

/// Polynomial through `READ_POINTS` values at 0, 1, 2, ... (barycentric form; Berrut & Trefethen 2004, SIAM Review 46:501-517).
fn interpolated(values: &[f64], at: f64) -> f64 {
    // (-1)^i binomial(13, i)
    const WEIGHTS: [f64; READ_POINTS] =
        [1.0, -13.0, 78.0, -286.0, 715.0, -1287.0, 1716.0, -1716.0, 1287.0, -715.0, 286.0, -78.0, 13.0, -1.0];
    let (mut above, mut below) = (0.0, 0.0);
    for (index, (value, weight)) in values.iter().zip(WEIGHTS).enumerate() {
        let distance = at - index as f64;
        if distance == 0.0 {
            return *value;
        }
        above += weight / distance * value;
        below += weight / distance;
    }
    above / below
}
