//! Covariance of the fixed estimates with Kenward and Roger's correction for a covariance that is not linear in its parameters.
//!
//! With `w` the inverse of the expected information, `S_k`, `Q_kl` as in [`super::information`] and `V_kl` the second derivatives:
//!
//! `Phi_A = Phi + 2 Phi { sum w_kl (Q_kl - S_k Phi S_l) } Phi - Phi (W'M W) Phi / 2 - sum b_k Phi S_k Phi`, `M = sum w_kl V_kl`,
//! `b_k = - sum_s w_ks tr(P V_s P M) / 4`.
//!
//! The first three terms are those of 1997 (there `R_kl` for `W'V_kl W`); the last takes the bias of the estimated parameters into
//! account, as in 2009. `b` is the first-order bias of maximum likelihood for a normal covariance (Cox & Snell 1968). With it the
//! result does not depend on the coordinates: where the covariance is linear in other coordinates, the two curved terms cancel, and
//! for plain variances it is that of `mixed`.
//!
//! Source: Kenward & Roger (1997), Biometrics 53:983-997; (2009), Comput. Stat. Data Anal. 53:2583-2595 (the second from memory,
//! the bias worked out anew; checked against numerical differentiation in R in `tests/correlated_errors/`).

use super::evaluation::Problem;
use super::search::Optimum;
use super::structure::{Kind, Structure};
use crate::matrix::{Cholesky, Matrix};

/// Fixed estimates with all that a [`crate::Fit`] needs.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FixedEstimates {
    pub estimates: Vec<f64>,
    pub covariance: Matrix,
    pub adjusted: Matrix,
    /// For each coordinate of the covariance how that of the estimates changes with it.
    pub slopes: Vec<Matrix>,
    /// Inverse of the expected information.
    pub parameter_covariance: Matrix,
    /// Inverse of the observed information, variances at zero taken as known.
    pub observed_covariance: Option<Matrix>,
}

/// Coordinates that the information is about: all but the correlations of parts that are not there and those at their edge.
pub(crate) fn informed(structure: &Structure, optimum: &Optimum) -> Vec<usize> {
    let counts = |&k: &usize| {
        let is_correlation = matches!(structure.parameters[k].kind, Kind::Correlation(_));
        !(is_correlation && (structure.is_absent(k, &optimum.coordinates) || optimum.at_cap.contains(&k)))
    };
    (0..structure.parameters.len()).filter(counts).collect()
}

/// The estimates; nothing when the information about the covariance is singular.
pub(crate) fn fixed_estimates(problem: &Problem, optimum: &Optimum) -> Option<FixedEstimates> {
    let structure = problem.structure;
    let informed = informed(structure, optimum);
    let parameter_covariance = inverse_over(&optimum.information.expected, &informed)?;
    let covariance = optimum.evaluation.covariance.clone();
    let around = |inner: &Matrix| covariance.times(inner).times(&covariance);
    let slopes: Vec<Matrix> = optimum.information.slopes.iter().map(around).collect();
    let mut inner = optimum.information.weighted_q(problem, &parameter_covariance);
    for (k, slope) in optimum.information.slopes.iter().enumerate() {
        let mut other = Matrix::zeros(inner.rows, inner.columns);
        let rest = optimum.information.slopes.iter().enumerate();
        rest.for_each(|(l, it)| other.add_scaled(parameter_covariance[(k, l)], it));
        inner.add_scaled(-1.0, &slope.times(&covariance).times(&other));
    }
    let mut adjusted = covariance.clone();
    adjusted.add_scaled(2.0, &around(&inner));
    let at = structure.at(&optimum.coordinates);
    if let Some((curved, traces)) =
        optimum.information.curvature(problem, &at, &optimum.evaluation, &parameter_covariance)
    {
        adjusted.add_scaled(-0.5, &around(&curved));
        let bias: Vec<f64> = parameter_covariance.times_vector(&traces).iter().map(|it| -0.25 * it).collect();
        bias.iter().zip(&slopes).for_each(|(bias, slope)| adjusted.add_scaled(-bias, slope));
    }
    let free: Vec<usize> = informed.iter().copied().filter(|&k| !is_zero(structure, optimum, k)).collect();
    let observed_covariance = inverse_over(&optimum.information.observed, &free);
    let estimates = optimum.evaluation.estimates.clone();
    Some(FixedEstimates { estimates, covariance, adjusted, slopes, parameter_covariance, observed_covariance })
}

fn is_zero(structure: &Structure, optimum: &Optimum, k: usize) -> bool {
    structure.parameters[k].kind == Kind::Variance && optimum.coordinates[k] == 0.0
}

/// The inverse over these rows and columns, zero elsewhere; scaled on the way, since coordinates differ in size.
fn inverse_over(information: &Matrix, places: &[usize]) -> Option<Matrix> {
    let size: Vec<f64> = places.iter().map(|&k| information[(k, k)].sqrt()).collect();
    if !size.iter().all(|it| it.is_finite() && *it > 0.0) {
        return None;
    }
    let mut scaled = Matrix::zeros(places.len(), places.len());
    for (row, &k) in places.iter().enumerate() {
        for (column, &l) in places.iter().enumerate() {
            scaled[(row, column)] = information[(k, l)] / (size[row] * size[column]);
        }
    }
    let inverse = Cholesky::of(&scaled)?.inverse();
    let mut spread = Matrix::zeros(information.rows, information.columns);
    for (row, &k) in places.iter().enumerate() {
        for (column, &l) in places.iter().enumerate() {
            spread[(k, l)] = inverse[(row, column)] / (size[row] * size[column]);
        }
    }
    Some(spread)
}
