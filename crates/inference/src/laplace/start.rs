//! Where the search for the standard deviations starts: moments of the scores.
//!
//! With no unit effects at all, a unit's summed scores have variance equal to its summed weights. What they vary beyond that is,
//! to first order, the variances of the groupings times sums of squared weights: one linear equation per grouping.
//!
//! Source: the idea is Henderson's (1953, Biometrics 9:226-252), applied to scores; worked out here.

use super::factor::Symmetric;
use super::likelihood::Likelihood;
use super::problem::Problem;
use crate::matrix::Matrix;

/// No search starts at a smaller standard deviation: zero is stationary.
pub(crate) const SMALLEST: f64 = 0.05;
/// Nor at a larger one: on a logit or log scale, units that differ more are hardly met.
const LARGEST: f64 = 2.0;

/// Standard deviations of the groupings by moments, at the fixed part in `parameters`.
pub(crate) fn standard_deviations<L: Likelihood>(problem: &Problem<L>, parameters: &[f64]) -> Vec<f64> {
    let pattern = &problem.pattern;
    let predictor = problem.fixed_predictor(parameters);
    let near: Vec<_> = predictor.iter().enumerate().map(|(i, &eta)| problem.likelihood.near(i, eta)).collect();
    let weight: Vec<f64> = near.iter().map(|it| it.weight).collect();
    let shared = Symmetric::weighted(pattern, &vec![1.0; pattern.groupings], &weight);
    let mut scores = vec![0.0; pattern.size];
    for (i, near) in near.iter().enumerate() {
        pattern.places(i).iter().for_each(|&place| scores[place] += near.slope);
    }
    let mut excess = vec![0.0; pattern.groupings];
    let mut meeting = Matrix::zeros(pattern.groupings, pattern.groupings);
    for (place, &k) in pattern.grouping_of.iter().enumerate() {
        excess[k] += scores[place] * scores[place] - shared.diagonal[place];
        meeting[(k, k)] += shared.diagonal[place] * shared.diagonal[place];
        for entry in pattern.column(place) {
            let l = pattern.grouping_of[pattern.row(entry)];
            meeting[(k, l)] += shared.below[entry] * shared.below[entry];
            meeting[(l, k)] = meeting[(k, l)];
        }
    }
    nonnegative(&meeting, &excess).iter().map(|variance| variance.sqrt().clamp(SMALLEST, LARGEST)).collect()
}

/// Solves `matrix x = right` with `x >= 0`, roughly: one unknown after the other.
fn nonnegative(matrix: &Matrix, right: &[f64]) -> Vec<f64> {
    let mut x = vec![0.0; right.len()];
    for _sweep in 0..50 {
        for k in 0..x.len() {
            let others: f64 = (0..x.len()).filter(|&l| l != k).map(|l| matrix[(k, l)] * x[l]).sum();
            let value = (right[k] - others) / matrix[(k, k)];
            x[k] = if value.is_finite() { value.max(0.0) } else { 0.0 };
        }
    }
    x
}
