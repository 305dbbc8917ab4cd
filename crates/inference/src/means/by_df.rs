//! Quantiles and adjusted p of many differences, each with degrees of freedom of its own.
//!
//! In a balanced table all differences share one or two numbers of degrees of freedom. With plots lost or blocks incomplete every
//! one of a thousand differences has its own, near the others'. Then what depends on them is worked out at a few numbers and
//! read between, after a check that nothing is lost by it.

use super::chebyshev::Points;
use crate::distribution::{StudentisedRange, StudentisedRangeWithDf, t_quantile};
use crate::matrix::dot;

/// Interpolated quantiles may be off by this much of themselves, and interpolated p by so much.
const ALLOWED: f64 = 1e-10;
/// Fewer differences than this are worked out one by one.
const FEW: usize = 256;
/// Points over each part of the range.
const RANGE_POINTS: usize = 24;

/// What depends on degrees of freedom only, kept for the last few numbers of them.
pub(crate) struct Recent<'a, T> {
    make: Box<dyn Fn(f64) -> T + 'a>,
    kept: Vec<(f64, T)>,
}

impl<'a, T> Recent<'a, T> {
    const KEPT: usize = 8;

    pub fn new(make: impl Fn(f64) -> T + 'a) -> Self {
        Self { make: Box::new(make), kept: Vec::new() }
    }

    pub fn of(&mut self, df: f64) -> &T {
        let known = self.kept.iter().position(|(known, _)| *known == df || (known - df).abs() <= 1e-12 * df);
        let position = known.unwrap_or_else(|| {
            if self.kept.len() == Self::KEPT {
                self.kept.remove(0);
            }
            self.kept.push((df, (self.make)(df)));
            self.kept.len() - 1
        });
        &self.kept[position].1
    }
}

/// The quantiles of t that half-widths of intervals are made with.
pub(crate) struct Quantiles<'a> {
    exact: Recent<'a, f64>,
    read: Option<(Points, Vec<f64>)>,
}

impl Quantiles<'_> {
    /// For intervals at this level.
    pub fn at(level: f64) -> Self {
        Self { exact: Recent::new(move |df| -t_quantile(0.5 * level, df)), read: None }
    }

    /// Makes ready for many differences.
    pub fn prepare(&mut self, dfs: &[f64]) {
        self.read = None;
        let Some(points) = points_over(dfs) else { return };
        let values: Vec<f64> = points.at().iter().map(|inverse| *self.exact.of(1.0 / inverse)).collect();
        let is_met = probes(dfs).all(|df| {
            let exact = *self.exact.of(df);
            (dot(&points.shares(1.0 / df), &values) - exact).abs() <= ALLOWED * exact
        });
        self.read = is_met.then_some((points, values));
    }

    /// The quantile for these degrees of freedom.
    pub fn of(&mut self, df: f64) -> f64 {
        match &self.read {
            Some((points, values)) => dot(&points.shares(1.0 / df), values),
            None => *self.exact.of(df),
        }
    }
}

/// Upper tails of the studentised range for many values, each with its own degrees of freedom.
pub(crate) struct RangeTails<'a> {
    range: &'a StudentisedRange,
    exact: Recent<'a, StudentisedRangeWithDf<'a>>,
    read: Option<ReadTails>,
}

/// The tail over a grid: below the split as it is, above by its logarithm.
struct ReadTails {
    dfs: Points,
    split: f64,
    low: Points,
    high: Points,
    /// One row for each number of degrees of freedom.
    low_values: Vec<Vec<f64>>,
    high_values: Vec<Vec<f64>>,
}

impl<'a> RangeTails<'a> {
    /// For the range of so many means as `range` is made for.
    pub fn of(range: &'a StudentisedRange) -> Self {
        Self { range, exact: Recent::new(|df| range.with_df(df)), read: None }
    }

    /// Makes ready for many values with their degrees of freedom.
    pub fn prepare(&mut self, values: &[(f64, f64)]) {
        let dfs: Vec<f64> = values.iter().map(|it| it.1).collect();
        let Some(points) = points_over(&dfs) else { return };
        if 2 * points.at().len() * 2 * RANGE_POINTS > values.len() * 3 {
            return;
        }
        let read = ReadTails::of(self.range, points, values.iter().map(|it| it.0).fold(0.0, f64::max));
        let step = (values.len() / 5).max(1);
        let is_met = values
            .iter()
            .step_by(step)
            .all(|&(value, df)| (read.upper(value, df) - self.exact.of(df).upper(value)).abs() <= ALLOWED);
        self.read = is_met.then_some(read);
    }

    /// Probability of a range above the value.
    pub fn upper(&mut self, value: f64, df: f64) -> f64 {
        match &self.read {
            Some(read) => read.upper(value, df),
            None => self.exact.of(df).upper(value),
        }
    }
}

impl ReadTails {
    fn of(range: &StudentisedRange, dfs: Points, largest: f64) -> Self {
        let middle = 1.0 / dfs.at()[dfs.at().len() / 2];
        let split = range.quantile_of_upper(0.5, middle).min(largest);
        let (low, high) = (Points::between(0.0, split, RANGE_POINTS), Points::between(split, largest, RANGE_POINTS));
        let rows = |points: &Points, of: fn(f64) -> f64| {
            let row = |inverse: &f64| {
                let with_df = range.with_df(1.0 / inverse);
                points.at().iter().map(|&value| of(with_df.upper(value))).collect()
            };
            dfs.at().iter().map(row).collect::<Vec<Vec<f64>>>()
        };
        let low_values = rows(&low, |p| p);
        // where the tail is below what numbers hold, its logarithm is that of the smallest that they do
        let high_values = rows(&high, |p| p.max(1e-300).ln());
        Self { split, low_values, high_values, dfs, low, high }
    }

    fn upper(&self, value: f64, df: f64) -> f64 {
        let by_df = self.dfs.shares(1.0 / df);
        let read = |points: &Points, rows: &[Vec<f64>]| {
            let shares = points.shares(value);
            by_df.iter().zip(rows).map(|(share, row)| share * dot(&shares, row)).sum::<f64>()
        };
        let p = if value < self.split {
            read(&self.low, &self.low_values)
        } else {
            read(&self.high, &self.high_values).exp()
        };
        p.clamp(0.0, 1.0)
    }
}

/// Points of one over the degrees of freedom, when there are many different ones; the closer they lie, the fewer are needed.
fn points_over(dfs: &[f64]) -> Option<Points> {
    let (low, high) =
        dfs.iter().fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), df| (low.min(*df), high.max(*df)));
    if dfs.len() < FEW || !(low > 1.0 && high.is_finite()) || high - low <= 1e-9 * high {
        return None;
    }
    let mut seen: Vec<f64> = Vec::new();
    for &df in dfs {
        if !seen.iter().any(|it| (it - df).abs() <= 1e-12 * df) {
            seen.push(df);
        }
        if seen.len() > Recent::<f64>::KEPT {
            break;
        }
    }
    if seen.len() <= Recent::<f64>::KEPT {
        return None;
    }
    let spread = (high - low) / (high + low);
    let count = (26.0 / (2.0 / spread).ln()).ceil().clamp(5.0, 24.0);
    Some(Points::between(1.0 / high, 1.0 / low, count as usize))
}

/// Numbers of degrees of freedom at which what was read is compared.
fn probes(dfs: &[f64]) -> impl Iterator<Item = f64> + '_ {
    dfs.iter().copied().step_by((dfs.len() / 5).max(1))
}
