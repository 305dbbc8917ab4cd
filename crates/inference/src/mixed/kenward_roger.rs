//! Covariance of the fixed estimates with Kenward and Roger's correction, in the form that [`Fit`] works with.
//!
//! The correction does not depend on how the variances are parametrised, as long as they enter linearly. Taken are the
//! variances of the random terms and, as the last parameter, a factor on the whole covariance matrix. All terms of the
//! correction that involve the last parameter then cancel, so that the residual needs no algebra of its own.
//!
//! Source: Kenward & Roger (1997), Biometrics 53:983-997, equations 2 to 6 (linear covariance: R_ij = 0). A variance at zero
//! keeps its place in the expected information; Satterthwaite's degrees of freedom, by the observed information, take it as known.

use super::cross_products::{CrossProducts, Evaluation, FixedPart};
use super::reml::Optimum;
use crate::fit::Fit;
use crate::matrix::{Cholesky, Matrix};
use crate::plots::Plots;

/// Fixed estimates with their corrected covariance; nothing when the information about the variances is singular.
pub(crate) fn fit(plots: &Plots, cross: &CrossProducts, optimum: &Optimum) -> Option<Fit> {
    let evaluation = &optimum.evaluation;
    let variance = optimum.residual_variance;
    let fixed = cross.fixed_part(&optimum.ratios)?;
    let covariance = fixed.products.inverse().scaled(variance);
    let parameter_covariance = Cholesky::of(&information(cross, evaluation, variance))?.inverse().scaled(2.0);
    let loads = loads(cross, &fixed, &covariance, variance);
    let mut slopes: Vec<Matrix> = loads.iter().map(|load| load.times_transposed(load)).collect();
    slopes.push(covariance.clone());
    let mut adjusted = covariance.clone();
    for (k, load) in loads.iter().enumerate() {
        for (l, other) in loads.iter().enumerate() {
            let weight = 2.0 * parameter_covariance[(k, l)] / variance;
            let middle = block(&evaluation.random, cross.ranges[k], cross.ranges[l]);
            adjusted.add_scaled(weight, &load.times(&middle).times_transposed(other));
        }
    }
    Some(Fit {
        estimates: estimates(plots, &fixed),
        covariance,
        adjusted,
        slopes,
        parameter_covariance,
        observed_covariance: observed_covariance(cross, optimum),
        unknown: Vec::new(),
        ..Fit::of_cells(plots)
    })
}

/// The generalised least squares estimates: cell means, then the further columns' slopes.
fn estimates(plots: &Plots, fixed: &FixedPart) -> Vec<f64> {
    let mut estimates = fixed.products.solve_vector(&fixed.response);
    estimates.iter_mut().zip(plots.cell_means()).for_each(|(shift, mean)| *shift += mean);
    estimates
}

/// `tr(P V_i P V_j)` over the terms' variances and the factor on the whole.
fn information(cross: &CrossProducts, evaluation: &Evaluation, variance: f64) -> Matrix {
    let count = cross.terms();
    let mut information = Matrix::zeros(count + 1, count + 1);
    for k in 0..count {
        for l in 0..count {
            information[(k, l)] =
                evaluation.squares_where_meet(cross.ranges[k], cross.ranges[l]) / (variance * variance);
        }
        let with_whole = evaluation.trace_of(cross.ranges[k]) / variance;
        (information[(k, count)], information[(count, k)]) = (with_whole, with_whole);
    }
    information[(count, count)] = cross.residual_df();
    information
}

/// Inverse of minus the second derivatives of the log-likelihood, over the same parameters; variances at zero have none.
fn observed_covariance(cross: &CrossProducts, optimum: &Optimum) -> Option<Matrix> {
    let (evaluation, variance) = (&optimum.evaluation, optimum.residual_variance);
    let count = cross.terms();
    let mut free: Vec<usize> = (0..count).filter(|&k| optimum.ratios[k] > 0.0).collect();
    free.push(count);
    let second = |k: usize, l: usize| match (k < count, l < count) {
        (true, true) => {
            let (a, b) = (cross.ranges[k], cross.ranges[l]);
            (evaluation.response_through(a, b) / variance - 0.5 * evaluation.squares_where_meet(a, b))
                / variance.powi(2)
        }
        (false, false) => evaluation.response / variance - 0.5 * cross.residual_df(),
        _ => {
            let range = cross.ranges[k.min(l)];
            (evaluation.squares_of_response(range) / variance - 0.5 * evaluation.trace_of(range)) / variance
        }
    };
    let mut information = Matrix::zeros(free.len(), free.len());
    for (row, &k) in free.iter().enumerate() {
        for (column, &l) in free.iter().enumerate() {
            information[(row, column)] = second(k, l);
        }
    }
    let inverse = Cholesky::of(&information)?.inverse();
    let mut covariance = Matrix::zeros(count + 1, count + 1);
    for (row, &k) in free.iter().enumerate() {
        for (column, &l) in free.iter().enumerate() {
            covariance[(k, l)] = inverse[(row, column)];
        }
    }
    Some(covariance)
}

/// For each term `Phi X' V^-1 Z`: how its effects enter the estimates.
fn loads(cross: &CrossProducts, fixed: &FixedPart, covariance: &Matrix, variance: f64) -> Vec<Matrix> {
    let all = covariance.times(&fixed.across).scaled(1.0 / variance);
    cross.ranges.iter().map(|&(start, end)| all.column_range(start, end)).collect()
}

fn block(matrix: &Matrix, rows: (usize, usize), columns: (usize, usize)) -> Matrix {
    let chosen: Vec<Vec<f64>> = (rows.0..rows.1).map(|row| matrix.row(row)[columns.0..columns.1].to_vec()).collect();
    Matrix::from_rows(&chosen)
}
