//! Covariance of the treatment means with Kenward and Roger's correction, in the form that [`Fit`] works with.
//!
//! The correction does not depend on how the variances are parametrised, as long as they enter linearly. Taken are the
//! variances of the strata and, as the last parameter, a factor on the whole covariance matrix. All terms of the correction
//! that involve the last parameter then cancel, so that the residual needs no algebra of its own.
//!
//! Source: Kenward & Roger (1997), Biometrics 53:983-997, equations 2 to 6 (linear covariance: R_ij = 0). A variance at zero
//! keeps its place in the information matrix.

use super::cross_products::{CrossProducts, Evaluation};
use super::reml::Optimum;
use crate::fit::Fit;
use crate::matrix::{Cholesky, Matrix};
use crate::plots::Plots;

/// Treatment means with their corrected covariance; nothing when the information about the variances is singular.
pub(crate) fn fit(plots: &Plots, cross: &CrossProducts, optimum: &Optimum) -> Option<Fit> {
    let evaluation = &optimum.evaluation;
    let variance = optimum.residual_variance;
    let covariance = evaluation.treatments.inverse().scaled(variance);
    let parameter_covariance = Cholesky::of(&information(cross, evaluation, variance))?.inverse().scaled(2.0);
    let loads = loads(cross, evaluation, &covariance, variance);
    let mut slopes: Vec<Matrix> = loads.iter().map(|load| load.times_transposed(load)).collect();
    slopes.push(covariance.clone());
    let mut adjusted = covariance.clone();
    for (k, load) in loads.iter().enumerate() {
        for (l, other) in loads.iter().enumerate() {
            let weight = 2.0 * parameter_covariance[(k, l)] / variance;
            let middle = block(&evaluation.units, cross.ranges[k], cross.ranges[l]);
            adjusted.add_scaled(weight, &load.times(&middle).times_transposed(other));
        }
    }
    Some(Fit {
        present: plots.present.clone(),
        labels: plots.treatments.iter().map(|treatment| treatment.label.clone()).collect(),
        grand_mean: plots.grand_mean,
        means: means(plots, evaluation),
        covariance,
        adjusted,
        slopes,
        parameter_covariance,
        unknown: Vec::new(),
    })
}

/// The generalised least squares means.
pub(crate) fn means(plots: &Plots, evaluation: &Evaluation) -> Vec<f64> {
    let shift = evaluation.treatments.solve_vector(&evaluation.treatments_response);
    plots.treatment_means().iter().zip(&shift).map(|(mean, shift)| mean + shift).collect()
}

/// `tr(P V_i P V_j)` over the strata's variances and the factor on the whole.
fn information(cross: &CrossProducts, evaluation: &Evaluation, variance: f64) -> Matrix {
    let count = cross.strata();
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

/// For each stratum `Phi X' V^-1 Z`: how its units' effects enter the means.
fn loads(cross: &CrossProducts, evaluation: &Evaluation, covariance: &Matrix, variance: f64) -> Vec<Matrix> {
    let all = covariance.times(&evaluation.treatments_units).scaled(1.0 / variance);
    cross.ranges.iter().map(|&(start, end)| all.column_range(start, end)).collect()
}

fn block(matrix: &Matrix, rows: (usize, usize), columns: (usize, usize)) -> Matrix {
    let chosen: Vec<Vec<f64>> = (rows.0..rows.1).map(|row| matrix.row(row)[columns.0..columns.1].to_vec()).collect();
    Matrix::from_rows(&chosen)
}
