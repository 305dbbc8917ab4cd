//! F tests of several comparisons at once, with Kenward and Roger's or with Satterthwaite's degrees of freedom.

use super::{ALL_UNITS, Fit, degrees_of_freedom, rounded_df};
use crate::distribution::{f_upper, t_two_sided};
use crate::matrix::{Cholesky, Matrix, dot, symmetric_eigen};
use crate::{Estimate, InferenceError};
use serde::{Deserialize, Serialize};

/// An F test of several comparisons at once.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct FTest {
    /// Degrees of freedom of the comparisons.
    pub num_df: f64,
    /// Degrees of freedom of the error.
    pub den_df: f64,
    /// The statistic.
    pub f: f64,
    /// Its upper tail.
    pub p: f64,
}

impl Fit {
    /// Tests comparisons given as weights over the cells.
    pub(crate) fn f_test_of_cells(&self, comparisons: &[Vec<f64>]) -> Result<FTest, InferenceError> {
        let own =
            self.f_test_of_rows(comparisons.iter().map(|weights| self.row(weights)).collect::<Result<_, _>>()?)?;
        match &self.df_like {
            Some(like) => Ok(f_test(own.f, own.num_df, like.f_test_of_cells(comparisons)?.den_df)),
            None => Ok(own),
        }
    }

    /// Tests comparisons given as weights over the parameters.
    pub(crate) fn f_test_of_rows(&self, rows: Vec<Vec<f64>>) -> Result<FTest, InferenceError> {
        if let [row] = rows.as_slice() {
            return Ok(single(self.estimate_of_row(row)?));
        }
        if rows.is_empty() {
            // nothing of the term can be compared, as when a combination has no values
            return Err(InferenceError::Weights { found: 0, expected: self.labels.len() });
        }
        rows.iter().try_for_each(|row| self.check_known(row))?;
        let rows = Matrix::from_rows(&rows);
        let dependent = || InferenceError::Weights { found: rows.rows, expected: self.labels.len() };
        let of_rows = |matrix: &Matrix| rows.times(matrix).times_transposed(&rows);
        let plain = Cholesky::of(&of_rows(&self.covariance)).ok_or_else(dependent)?;
        let adjusted = Cholesky::of(&of_rows(&self.adjusted)).ok_or_else(dependent)?;
        let inverse = plain.inverse();
        let shares: Vec<Matrix> = self.slopes.iter().map(|slope| inverse.times(&of_rows(slope))).collect();
        let scaled = adjusted.solve_lower_vector(&rows.times_vector(&self.estimates));
        let wald = dot(&scaled, &scaled) / rows.rows as f64;
        let test = self.kenward_roger(&shares, wald, rows.rows as f64);
        test.ok_or_else(|| InferenceError::NoErrorInStratum { stratum: ALL_UNITS.into() })
    }

    /// Degrees of freedom and scale for the Wald statistic, or nothing when the approximation breaks down; `a1`, `a2`, `b`, `g`,
    /// `c1..c3` as in the paper.
    fn kenward_roger(&self, shares: &[Matrix], wald: f64, q: f64) -> Option<FTest> {
        let (mut a1, mut a2) = (0.0, 0.0);
        for (i, one) in shares.iter().enumerate() {
            for (j, other) in shares.iter().enumerate() {
                let weight = self.parameter_covariance[(i, j)];
                a1 += weight * one.trace() * other.trace();
                a2 += weight * one.trace_of_product(other);
            }
        }
        if a1 <= 0.0 {
            return Some(f_test(wald, q, f64::INFINITY));
        }
        // One variance scales the whole test: the F distribution is exact (Cauchy-Schwarz with equality).
        if (q * a2 - a1).abs() <= 1e-9 * a1 {
            return Some(f_test(wald, q, rounded_df(2.0 * q * q / a1)));
        }
        let b = (a1 + 6.0 * a2) / (2.0 * q);
        let g = ((q + 1.0) * a1 - (q + 4.0) * a2) / ((q + 2.0) * a2);
        let below = 3.0 * q + 2.0 * (1.0 - g);
        let (c1, c2, c3) = (g / below, (q - g) / below, (q + 2.0 - g) / below);
        let (v0, v1, v2) = (1.0 + c1 * b, 1.0 - c2 * b, 1.0 - c3 * b);
        let spread = ratio_near_zero(1.0 - a2 / q, v1).powi(2) * v0 / v2 / q;
        let df = 4.0 + (q + 2.0) / (q * spread - 1.0);
        if !(df > 0.0 && df.is_finite()) {
            return None;
        }
        // An F has no mean at 2 degrees of freedom and fewer, so there the scale, which matches means, is left at one.
        let scale = if df > 2.01 { df * (1.0 - a2 / q) / (df - 2.0) } else { 1.0 };
        (scale > 0.0).then(|| f_test(scale * wald, q, rounded_df(df)))
    }

    /// The same test with Satterthwaite's degrees of freedom: the comparisons are turned into independent ones, each with its own
    /// degrees of freedom, and the F that matches the mean of their squares is taken.
    ///
    /// # Source
    /// Fai & Cornelius (1996), J. Statist. Comput. Simul. 54:363-378 (from memory); checked against lmerTest.
    pub(crate) fn satterthwaite_of_cells(&self, comparisons: &[Vec<f64>]) -> Result<FTest, InferenceError> {
        let rows: Vec<Vec<f64>> = comparisons.iter().map(|weights| self.row(weights)).collect::<Result<_, _>>()?;
        if rows.is_empty() {
            return Err(InferenceError::Weights { found: 0, expected: self.labels.len() });
        }
        rows.iter().try_for_each(|row| self.check_known(row))?;
        let rows = Matrix::from_rows(&rows);
        let (values, vectors) = symmetric_eigen(&rows.times(&self.covariance).times_transposed(&rows));
        let largest = values.iter().fold(0.0, |largest: f64, value| largest.max(*value));
        if !values.iter().all(|&value| value > 1e-12 * largest) {
            return Err(InferenceError::Weights { found: rows.rows, expected: self.labels.len() });
        }
        let independent = vectors.times(&rows);
        let q = rows.rows as f64;
        let parts = values.iter().enumerate().map(|(index, &variance)| {
            let row = independent.row(index);
            (dot(row, &self.estimates).powi(2) / variance, self.satterthwaite_df(row, variance))
        });
        let (squares, dfs): (Vec<f64>, Vec<f64>) = parts.unzip();
        let f = squares.iter().sum::<f64>() / q;
        Ok(f_test(f, q, joined_df(&dfs)))
    }

    /// A comparison by weights over the cells with the error of the model as fitted and Satterthwaite's degrees of freedom.
    pub(crate) fn satterthwaite_contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        let row = self.row(weights)?;
        self.check_known(&row)?;
        let variance = self.covariance.quadratic_form(&row);
        let estimate = dot(&row, &self.estimates) + self.grand_mean * weights.iter().sum::<f64>();
        Ok(Estimate { estimate, se: variance.sqrt(), df: self.satterthwaite_df(&row, variance) })
    }

    fn satterthwaite_df(&self, row: &[f64], variance: f64) -> f64 {
        let shares: Vec<f64> = self.slopes.iter().map(|slope| slope.quadratic_form(row) / variance).collect();
        degrees_of_freedom(&shares, self.observed_covariance.as_ref().unwrap_or(&self.parameter_covariance))
    }
}

/// Denominator degrees of freedom of a mean of independent squared t.
fn joined_df(dfs: &[f64]) -> f64 {
    let q = dfs.len() as f64;
    if dfs.iter().all(|df| (df - dfs[0]).abs() <= 1e-8 * df.abs()) {
        return dfs[0];
    }
    if dfs.iter().any(|&df| df <= 2.0) {
        return 2.0;
    }
    let expected: f64 = dfs.iter().map(|df| if df.is_finite() { df / (df - 2.0) } else { 1.0 }).sum();
    rounded_df(2.0 * expected / (expected - q))
}

fn single(estimate: Estimate) -> FTest {
    let p = t_two_sided(estimate.t(), estimate.df);
    FTest { num_df: 1.0, den_df: estimate.df, f: estimate.t().powi(2), p }
}

fn f_test(f: f64, num_df: f64, den_df: f64) -> FTest {
    FTest { num_df, den_df, f, p: f_upper(f, num_df, den_df) }
}

/// 0/0 of the paper's formula is 1, as in the limit.
fn ratio_near_zero(above: f64, below: f64) -> f64 {
    if above.abs() < 1e-10 && below.abs() < 1e-10 { 1.0 } else { above / below }
}
