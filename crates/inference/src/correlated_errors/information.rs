//! Expected and observed information about the covariance, with what Kenward and Roger's correction needs beside.
//!
//! With `V_k` the derivative by coordinate `k`, `W = V^-1 X` and `Phi = (X'V^-1X)^-1`: `S_k = W'V_k W` and `Q_kl = W'V_k V^-1 V_l W`. Then
//! `tr(P V_k P V_l) = tr(V^-1 V_k V^-1 V_l) - 2 tr(Phi Q_kl) + tr(Phi S_k Phi S_l)`.

use super::dense;
use super::evaluation::{Evaluation, Problem, Slopes, scatter};
use super::structure::At;
use crate::matrix::{Matrix, add_scaled};

/// Second-order quantities at one set of working coordinates.
#[derive(Debug, Clone)]
pub(crate) struct Information {
    /// `tr(P V_k P V_l) / 2`.
    pub expected: Matrix,
    /// Minus the second derivatives of the log-likelihood.
    pub observed: Matrix,
    /// `S_k`, fixed x fixed.
    pub slopes: Vec<Matrix>,
    /// For each block and coordinate `V^-1 V_k`, `V_k W` and `V^-1 V_k W`.
    parts: Vec<Vec<Images>>,
    /// Whether some second derivative of the covariance is not zero.
    is_curved: bool,
}

/// What a symmetric matrix over one block becomes.
#[derive(Debug, Clone)]
struct Images {
    /// `V^-1 M`.
    through: Matrix,
    /// `M W`.
    weighted: Matrix,
    /// `V^-1 M W`.
    weighted_through: Matrix,
}

impl Images {
    fn of(matrix: &Matrix, inverse: &Matrix, weighted: &Matrix) -> Self {
        let through = dense::product(inverse, matrix);
        let (weighted_through, weighted) = (dense::product(&through, weighted), dense::product(matrix, weighted));
        Self { through, weighted, weighted_through }
    }
}

impl Information {
    pub fn of(problem: &Problem, at: &At, evaluation: &Evaluation, slopes: &Slopes) -> Self {
        let count = problem.structure.parameters.len();
        let fixed = problem.fixed.parameters();
        let parts: Vec<Vec<Images>> = (0..problem.columns.len())
            .map(|block| {
                let (inverse, weighted) = (&evaluation.inverse[block], &evaluation.weighted[block]);
                at.derivative_matrices(block).iter().map(|matrix| Images::of(matrix, inverse, weighted)).collect()
            })
            .collect();
        let mut own_slopes = vec![Matrix::zeros(fixed, fixed); count];
        for (block, images) in parts.iter().enumerate() {
            for (slope, image) in own_slopes.iter_mut().zip(images) {
                let part = dense::product(&evaluation.weighted[block].transposed(), &image.weighted);
                scatter(slope, &problem.columns[block].columns, &part);
            }
        }
        let is_curved = problem.structure.parts.iter().any(|part| part.has_second());
        let mut information = Self {
            expected: Matrix::zeros(count, count),
            observed: Matrix::zeros(count, count),
            slopes: own_slopes,
            parts,
            is_curved,
        };
        for k in 0..count {
            for l in 0..=k {
                let pairs = information.parts.iter().map(|images| (&images[k], &images[l])).collect::<Vec<_>>();
                let value = 0.5 * trace(problem, evaluation, &pairs, &information.slopes[k], &information.slopes[l]);
                (information.expected[(k, l)], information.expected[(l, k)]) = (value, value);
            }
        }
        information.observed = slopes.average_information.clone().scaled(2.0);
        information.observed.add_scaled(-1.0, &information.expected);
        if is_curved {
            for (block, projected) in evaluation.projected.iter().enumerate() {
                // tr(P V_kl) - y'P V_kl P y in one go: the trace of V_kl times the difference
                let mut weights = problem.projection(evaluation, block);
                for (row, &value) in projected.iter().enumerate() {
                    add_scaled(weights.row_mut(row), -value, projected);
                }
                information.observed.add_scaled(0.5, &at.second_traces(block, &weights));
            }
        }
        information
    }

    /// `sum of weights[(k, l)] Q_kl`, fixed x fixed.
    pub fn weighted_q(&self, problem: &Problem, weights: &Matrix) -> Matrix {
        let fixed = problem.fixed.parameters();
        let mut sum = Matrix::zeros(fixed, fixed);
        for (block, images) in self.parts.iter().enumerate() {
            for (k, one) in images.iter().enumerate() {
                let mut other = Matrix::zeros(one.weighted.rows, one.weighted.columns);
                images.iter().enumerate().for_each(|(l, it)| other.add_scaled(weights[(k, l)], &it.weighted_through));
                let part = dense::product(&one.weighted.transposed(), &other);
                scatter(&mut sum, &problem.columns[block].columns, &part);
            }
        }
        sum
    }

    /// For `M`, the sum of `weights[(k, l)]` times the second derivatives: `W'M W` and `tr(P V_k P M)` for each `k`. None when `M` is zero.
    pub fn curvature(
        &self,
        problem: &Problem,
        at: &At,
        evaluation: &Evaluation,
        weights: &Matrix,
    ) -> Option<(Matrix, Vec<f64>)> {
        if !self.is_curved {
            return None;
        }
        let fixed = problem.fixed.parameters();
        let mut slope = Matrix::zeros(fixed, fixed);
        let images: Vec<Images> = (0..self.parts.len())
            .map(|block| {
                let weighted = &evaluation.weighted[block];
                let images = Images::of(&at.second_sum(block, weights), &evaluation.inverse[block], weighted);
                let part = dense::product(&weighted.transposed(), &images.weighted);
                scatter(&mut slope, &problem.columns[block].columns, &part);
                images
            })
            .collect();
        let trace_with = |k: usize| {
            let pairs = self.parts.iter().zip(&images).map(|(own, other)| (&own[k], other)).collect::<Vec<_>>();
            trace(problem, evaluation, &pairs, &self.slopes[k], &slope)
        };
        Some((slope.clone(), (0..self.slopes.len()).map(trace_with).collect()))
    }
}

/// `tr(P A P B)` from the images of `A` and `B` over the blocks and `W'AW`, `W'BW`.
fn trace(
    problem: &Problem,
    evaluation: &Evaluation,
    images: &[(&Images, &Images)],
    slope: &Matrix,
    other_slope: &Matrix,
) -> f64 {
    let covariance = &evaluation.covariance;
    let mut sum = covariance.times(slope).trace_of_product(&covariance.times(other_slope));
    let fixed = problem.fixed.parameters();
    let mut q = Matrix::zeros(fixed, fixed);
    for (block, (one, other)) in images.iter().enumerate() {
        sum += one.through.trace_of_product(&other.through);
        let part = dense::product(&one.weighted.transposed(), &other.weighted_through);
        scatter(&mut q, &problem.columns[block].columns, &part);
    }
    sum - 2.0 * covariance.trace_of_product(&q)
}
