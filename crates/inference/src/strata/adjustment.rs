//! Analysis of covariance within the strata.
//!
//! Where all treatments are compared between plots of the same units, the slopes come from what is left of covariates and
//! response between those plots, as in any text on the analysis of covariance. Where treatments are compared in several strata,
//! each stratum would give slopes of its own; then the mixed model, which has one, leads.

use super::lattice::{Node, parts_of};
use crate::matrix::{Cholesky, Matrix, add_scaled, dot};
use crate::plots::Plots;

/// Slopes of the covariates with what their variance depends on.
#[derive(Debug, Clone)]
pub(crate) struct Adjustment {
    /// One for each covariate, in the response's unit per the covariate's.
    pub slopes: Vec<f64>,
    /// Inverse of the covariates' sums of squares and products for error.
    inverse: Matrix,
}

impl Adjustment {
    /// The slopes, whose part is taken off the deviations in every stratum; nothing when treatments are compared in more than
    /// the innermost stratum, or when the covariates leave nothing between its plots.
    pub fn of(plots: &Plots, nodes: &[Node], shares: &[Matrix], deviations: &mut [Vec<f64>]) -> Option<Self> {
        let last = nodes.len() - 1;
        let outside = shares[..last].iter().any(|share| share.largest() > 1e-8);
        if outside {
            return None;
        }
        let parts: Vec<Vec<Vec<f64>>> = plots.covariates.iter().map(|it| parts_of(&it.within, nodes)).collect();
        let mut products = Matrix::zeros(parts.len(), parts.len());
        for (row, one) in parts.iter().enumerate() {
            for (column, other) in parts.iter().enumerate() {
                products[(row, column)] = dot(&one[last], &other[last]);
            }
            if products[(row, row)] <= 1e-18 * dot(&plots.covariates[row].within, &plots.covariates[row].within) {
                return None;
            }
        }
        let factor = Cholesky::of(&products)?;
        let mut slopes = vec![0.0; parts.len()];
        for _twice_for_rounding in 0..2 {
            let left: Vec<f64> = parts.iter().map(|it| dot(&it[last], &deviations[last])).collect();
            let more = factor.solve_vector(&left);
            take_off(deviations, &parts, &more);
            add_scaled(&mut slopes, 1.0, &more);
        }
        Some(Self { slopes, inverse: factor.inverse() })
    }

    /// Adds the slopes' own variance, per error mean square, below the cells.
    pub fn add_variance_of_slopes(&self, matrix: &mut Matrix, cells: usize) {
        for row in 0..self.inverse.rows {
            add_scaled(&mut matrix.row_mut(cells + row)[cells..], 1.0, self.inverse.row(row));
        }
    }
}

fn take_off(deviations: &mut [Vec<f64>], parts: &[Vec<Vec<f64>>], slopes: &[f64]) {
    for (covariate, slope) in parts.iter().zip(slopes) {
        deviations.iter_mut().zip(covariate).for_each(|(left, part)| add_scaled(left, -slope, part));
    }
}
