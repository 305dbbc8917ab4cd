//! Treatment means with all that is needed to judge any comparison among them.
//!
//! Both methods end here. The covariance of the means is a linear function of a few variance parameters; the classical
//! strata give those as mean squares with known degrees of freedom, REML as components with an information matrix.

use crate::distribution::{f_upper, t_two_sided};
use crate::matrix::{Cholesky, Matrix};
use crate::{Estimate, InferenceError};

/// Estimated treatment means and the uncertainty of any comparison among them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fit {
    /// For every treatment of the trial its index among those present.
    pub(crate) present: Vec<Option<usize>>,
    /// Labels of all treatments of the trial.
    pub(crate) labels: Vec<String>,
    /// What was taken off every value before fitting.
    pub(crate) grand_mean: f64,
    /// Means of the treatments present, minus the grand mean.
    pub(crate) means: Vec<f64>,
    /// Covariance of the means at the estimated variances.
    pub(crate) covariance: Matrix,
    /// The same with Kenward and Roger's correction for having estimated the variances.
    pub(crate) adjusted: Matrix,
    /// For every variance parameter how the covariance of the means changes with it.
    pub(crate) slopes: Vec<Matrix>,
    /// Covariance of the estimated variance parameters.
    pub(crate) parameter_covariance: Matrix,
    /// Strata whose variance is not known, with how it would enter the covariance.
    pub(crate) unknown: Vec<(String, Matrix)>,
}

/// Stands for a stratum's name where the error cannot be put down to one.
const ALL_UNITS: &str = "all units";

/// An F test of several comparisons at once.
#[derive(Debug, Clone, Copy, PartialEq)]
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
    /// The comparison of treatment means with these weights, one for each treatment of the trial in its own order.
    ///
    /// # Errors
    /// [`InferenceError::Weights`], [`InferenceError::NotEstimable`] when a treatment without values has weight,
    /// [`InferenceError::NoErrorInStratum`] when no error is known for it.
    pub fn contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        let row = self.over_present(weights)?;
        self.check_known(&row)?;
        let estimate = crate::matrix::dot(&row, &self.means) + self.grand_mean * weights.iter().sum::<f64>();
        let variance = self.covariance.quadratic_form(&row);
        let adjusted = self.adjusted.quadratic_form(&row);
        if !(adjusted > 0.0 && variance > 0.0) {
            return Err(InferenceError::NoErrorInStratum { stratum: ALL_UNITS.into() });
        }
        let shares: Vec<f64> = self.slopes.iter().map(|slope| slope.quadratic_form(&row) / variance).collect();
        let df = 2.0 / self.parameter_covariance.quadratic_form(&shares);
        Ok(Estimate { estimate, se: adjusted.sqrt(), df: rounded_df(df) })
    }

    /// Tests all comparisons (rows of weights over the treatments of the trial) at once.
    ///
    /// # Errors
    /// As [`Self::contrast`].
    /// # Source
    /// Kenward & Roger (1997), Biometrics 53:983-997. For one stratum this is the exact F test.
    pub fn f_test(&self, comparisons: &[Vec<f64>]) -> Result<FTest, InferenceError> {
        let rows: Vec<Vec<f64>> =
            comparisons.iter().map(|weights| self.over_present(weights)).collect::<Result<_, _>>()?;
        rows.iter().try_for_each(|row| self.check_known(row))?;
        if let [row] = rows.as_slice() {
            return Ok(single(self.contrast_of_present(row)?));
        }
        let rows = Matrix::from_rows(&rows);
        let dependent = || InferenceError::Weights { found: rows.rows, expected: self.labels.len() };
        let of_rows = |matrix: &Matrix| rows.times(matrix).times_transposed(&rows);
        let plain = Cholesky::of(&of_rows(&self.covariance)).ok_or_else(dependent)?;
        let adjusted = Cholesky::of(&of_rows(&self.adjusted)).ok_or_else(dependent)?;
        let inverse = plain.inverse();
        let shares: Vec<Matrix> = self.slopes.iter().map(|slope| inverse.times(&of_rows(slope))).collect();
        let scaled = adjusted.solve_lower_vector(&rows.times_vector(&self.means));
        let wald = crate::matrix::dot(&scaled, &scaled) / rows.rows as f64;
        let test = self.kenward_roger(&shares, wald, rows.rows as f64);
        test.ok_or_else(|| InferenceError::NoErrorInStratum { stratum: ALL_UNITS.into() })
    }

    fn contrast_of_present(&self, row: &[f64]) -> Result<Estimate, InferenceError> {
        let mut weights = vec![0.0; self.present.len()];
        for (weight, present) in weights.iter_mut().zip(&self.present) {
            *weight = present.map_or(0.0, |index| row[index]);
        }
        self.contrast(&weights)
    }

    /// Degrees of freedom and scale for the Wald statistic, or nothing when the approximation breaks down; `a1`, `a2`, `b`, `g`, `c1..c3` as in the paper.
    fn kenward_roger(&self, shares: &[Matrix], wald: f64, q: f64) -> Option<FTest> {
        let (mut a1, mut a2) = (0.0, 0.0);
        for (i, one) in shares.iter().enumerate() {
            for (j, other) in shares.iter().enumerate() {
                let weight = self.parameter_covariance[(i, j)];
                a1 += weight * one.trace() * other.trace();
                a2 += weight * one.trace_of_product(other);
            }
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

    fn over_present(&self, weights: &[f64]) -> Result<Vec<f64>, InferenceError> {
        let expected = self.present.len();
        let finite = weights.iter().filter(|weight| weight.is_finite()).count();
        if weights.len() != expected || finite != expected || weights.iter().all(|&weight| weight == 0.0) {
            return Err(InferenceError::Weights { found: finite, expected });
        }
        let mut row = vec![0.0; self.means.len()];
        for (treatment, &weight) in weights.iter().enumerate().filter(|(_, weight)| **weight != 0.0) {
            match self.present[treatment] {
                Some(index) => row[index] = weight,
                None => return Err(InferenceError::NotEstimable { treatment: self.labels[treatment].clone() }),
            }
        }
        Ok(row)
    }

    fn check_known(&self, row: &[f64]) -> Result<(), InferenceError> {
        let size = crate::matrix::dot(row, row);
        let depends = |matrix: &Matrix| matrix.quadratic_form(row).abs() > 1e-9 * size * matrix.largest();
        match self.unknown.iter().find(|(_, matrix)| depends(matrix)) {
            Some((stratum, _)) => Err(InferenceError::NoErrorInStratum { stratum: stratum.clone() }),
            None => Ok(()),
        }
    }
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

/// Degrees of freedom that differ from a whole number by rounding error only are that number.
pub(crate) fn rounded_df(df: f64) -> f64 {
    if (df - df.round()).abs() < 1e-8 * df { df.round() } else { df }
}

impl Fit {
    /// The weighted sum of means alone. Weights of treatments without values must be zero.
    pub(crate) fn mean(&self, weights: &[f64]) -> f64 {
        let known =
            weights.iter().zip(&self.present).filter_map(|(weight, present)| present.map(|it| weight * self.means[it]));
        known.sum::<f64>() + self.grand_mean * weights.iter().sum::<f64>()
    }

    /// Covariances of several comparisons.
    pub(crate) fn covariances(&self, comparisons: &[Vec<f64>]) -> Option<Matrix> {
        let rows: Option<Vec<Vec<f64>>> = comparisons.iter().map(|weights| self.over_present(weights).ok()).collect();
        let rows = Matrix::from_rows(&rows?);
        Some(rows.times(&self.adjusted).times_transposed(&rows))
    }
}
