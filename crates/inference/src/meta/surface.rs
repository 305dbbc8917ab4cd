//! The restricted likelihood of the variance between trials.
//!
//! With weights `w = 1 / (v + t)`, `P = W - W11'W / sum(w)` and `r` the residuals about the weighted mean, the slope by `t` is
//! `(y'PPy - tr P) / 2` and the curvature `tr PP / 2 - y'PPPy`. Traces are sums over pairs of trials, so that one trial with nearly
//! all the weight does not cancel what the others say.

use super::scaled::Scaled;

/// The likelihood at one variance between trials, in the scaled unit.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Point {
    /// Sum of weights.
    pub weight: f64,
    /// Weighted mean.
    pub mean: f64,
    /// Weighted sum of squares about the mean.
    pub q: f64,
    /// Restricted log-likelihood, constants included.
    pub log_likelihood: f64,
    /// Its slope.
    pub slope: f64,
    /// Its curvature, turned round: positive at a top.
    pub curvature: f64,
    /// What the curvature is on average.
    pub information: f64,
    /// Slope of `q`, turned round.
    pub q_falls: f64,
}

impl Point {
    /// - `between`: the variance between trials, zero or more
    pub fn at(scaled: &Scaled, between: f64) -> Self {
        let weights: Vec<f64> = scaled.variances.iter().map(|variance| 1.0 / (variance + between)).collect();
        let weight: f64 = weights.iter().sum();
        let weighted = |of: &dyn Fn(usize) -> f64| weights.iter().enumerate().map(|(i, w)| w * of(i)).sum::<f64>();
        let mean = weighted(&|i| scaled.estimates[i]) / weight;
        let residual = |i: usize| scaled.estimates[i] - mean;
        let q = weighted(&|i| residual(i).powi(2));
        let q_falls = weighted(&|i| weights[i] * residual(i).powi(2));
        let squares: Vec<f64> = weights.iter().map(|w| w * w).collect();
        let (others, other_squares) = (without_own(&weights), without_own(&squares));
        let trace = weighted(&|i| others[i] / weight);
        let trace_of_square = (0..weights.len())
            .map(|i| squares[i] * (others[i] * others[i] + other_squares[i]) / (weight * weight))
            .sum::<f64>();
        let third = weighted(&|i| (weights[i] * residual(i)).powi(2))
            - weighted(&|i| weights[i] * residual(i)).powi(2) / weight;
        let logs: f64 = scaled.variances.iter().map(|variance| (variance + between).ln()).sum();
        let constants = (weights.len() - 1) as f64 * (2.0 * std::f64::consts::PI).ln();
        Self {
            weight,
            mean,
            q,
            log_likelihood: -0.5 * (constants + logs + weight.ln() + q),
            slope: 0.5 * (q_falls - trace),
            curvature: third - 0.5 * trace_of_square,
            information: 0.5 * trace_of_square,
            q_falls,
        }
    }
}

/// For each entry the sum of all others, without taking it from the sum of all.
pub(crate) fn without_own(values: &[f64]) -> Vec<f64> {
    let mut sums = vec![0.0; values.len()];
    let mut before = 0.0;
    for (sum, value) in sums.iter_mut().zip(values) {
        *sum = before;
        before += value;
    }
    let mut after = 0.0;
    for (sum, value) in sums.iter_mut().zip(values).rev() {
        *sum += after;
        after += value;
    }
    sums
}
