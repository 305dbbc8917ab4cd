//! Errors of all means of a table and of all their differences, worked out together.

use super::{Fit, degrees_of_freedom};
use crate::Estimate;
use crate::matrix::{Matrix, dot};
use crate::terms::Margin;

/// What the errors of the means of one table, and of all their differences, are made of.
///
/// With `W` the means as weights over the parameters, it holds `W C W'` for the covariance, the corrected covariance and each
/// slope; the variance of a difference then is three entries of a matrix, whatever the number of treatments.
#[derive(Debug)]
pub(crate) struct MarginErrors {
    /// The means, in the response's unit.
    pub means: Vec<f64>,
    covariance: Matrix,
    /// With Kenward and Roger's correction.
    pub adjusted: Matrix,
    slopes: Vec<Matrix>,
    unknown: Vec<Matrix>,
    parameter_covariance: Matrix,
    df_like: Option<Box<MarginErrors>>,
}

impl MarginErrors {
    /// For means whose cells all have values.
    pub fn of(fit: &Fit, margins: &[Margin]) -> Self {
        let rows: Vec<Sparse> = margins.iter().map(|margin| Sparse::of(&over_parameters(fit, margin))).collect();
        let of_rows = |matrix: &Matrix| between(&rows, matrix);
        Self {
            means: rows.iter().map(|row| row.dot(&fit.estimates) + fit.grand_mean).collect(),
            covariance: of_rows(&fit.covariance),
            adjusted: of_rows(&fit.adjusted),
            slopes: fit.slopes.iter().map(of_rows).collect(),
            unknown: fit.unknown.iter().map(|(_, matrix)| of_rows(matrix)).collect(),
            parameter_covariance: fit.parameter_covariance.clone(),
            df_like: fit.df_like.as_ref().map(|like| Box::new(Self::of(like, margins))),
        }
    }

    /// One mean; none when its error is not known.
    pub fn mean(&self, a: usize) -> Option<Estimate> {
        let own = self.estimate(self.means[a], |matrix| matrix[(a, a)])?;
        self.with_df(own, |like| like.mean(a))
    }

    /// One difference; none when its error is not known.
    pub fn difference(&self, a: usize, b: usize) -> Option<Estimate> {
        let of = |matrix: &Matrix| matrix[(a, a)] + matrix[(b, b)] - 2.0 * matrix[(a, b)];
        let own = self.estimate(self.means[a] - self.means[b], of)?;
        self.with_df(own, |like| like.difference(a, b))
    }

    fn with_df(&self, own: Estimate, same: impl Fn(&Self) -> Option<Estimate>) -> Option<Estimate> {
        match &self.df_like {
            Some(like) => Some(Estimate { df: same(like)?.df, ..own }),
            None => Some(own),
        }
    }

    fn estimate(&self, estimate: f64, of: impl Fn(&Matrix) -> f64) -> Option<Estimate> {
        if self.unknown.iter().any(|matrix| of(matrix).abs() > 1e-9 * matrix.largest()) {
            return None;
        }
        let (variance, adjusted) = (of(&self.covariance), of(&self.adjusted));
        if !(adjusted > 0.0 && variance > 0.0) {
            return None;
        }
        let mut shares = [0.0; 16];
        let kept;
        let shares = match shares.get_mut(..self.slopes.len()) {
            Some(few) => {
                few.iter_mut().zip(&self.slopes).for_each(|(share, slope)| *share = of(slope) / variance);
                &*few
            }
            None => {
                kept = self.slopes.iter().map(|slope| of(slope) / variance).collect::<Vec<f64>>();
                kept.as_slice()
            }
        };
        let df = degrees_of_freedom(shares, &self.parameter_covariance);
        Some(Estimate { estimate, se: adjusted.sqrt(), df })
    }
}

/// The entries of a row that are not zero.
struct Sparse(Vec<(usize, f64)>);

impl Sparse {
    fn of(row: &[f64]) -> Self {
        Self(row.iter().copied().enumerate().filter(|(_, weight)| *weight != 0.0).collect())
    }

    fn dot(&self, values: &[f64]) -> f64 {
        self.0.iter().map(|&(index, weight)| weight * values[index]).sum()
    }
}

/// `W M W'` for a symmetric matrix.
fn between(rows: &[Sparse], matrix: &Matrix) -> Matrix {
    let mut result = Matrix::zeros(rows.len(), rows.len());
    let mut combined = vec![0.0; matrix.columns];
    for (a, row) in rows.iter().enumerate() {
        combined.fill(0.0);
        row.0.iter().for_each(|&(index, weight)| crate::matrix::add_scaled(&mut combined, weight, matrix.row(index)));
        for (b, other) in rows.iter().enumerate().take(a + 1) {
            let value = other.dot(&combined);
            (result[(a, b)], result[(b, a)]) = (value, value);
        }
    }
    result
}

fn over_parameters(fit: &Fit, margin: &Margin) -> Vec<f64> {
    let cells = fit.offsets.rows;
    let mut row = vec![0.0; fit.estimates.len()];
    for index in margin.members.iter().filter_map(|&member| fit.present[member]) {
        let share = 1.0 / margin.members.len() as f64;
        row[index] += share;
        crate::matrix::add_scaled(&mut row[cells..], share, fit.offsets.row(index));
    }
    row
}

impl Fit {
    /// The mean over a margin's cells alone.
    pub(crate) fn mean_of(&self, margin: &Margin) -> f64 {
        self.grand_mean + dot(&over_parameters(self, margin), &self.estimates)
    }
}
