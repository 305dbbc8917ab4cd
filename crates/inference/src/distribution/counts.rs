//! Tails of the distributions of counts: `(P(Y <= y), P(Y > y))`, both to full precision; `y` below zero gives `(0, 1)`.

use super::incomplete_beta::{BetaPoint, incomplete_beta};
use super::incomplete_gamma::incomplete_gamma;

/// Successes among `trials`, each with probability `p`.
pub fn binomial_tails(y: f64, trials: f64, p: f64) -> (f64, f64) {
    if y < 0.0 {
        return (0.0, 1.0);
    }
    if y >= trials {
        return (1.0, 0.0);
    }
    beta_tails(trials - y, y + 1.0, 1.0 - p, p)
}

/// Independent events of which `mean` are expected.
pub fn poisson_tails(y: f64, mean: f64) -> (f64, f64) {
    if y < 0.0 {
        return (0.0, 1.0);
    }
    let (lower, upper) = incomplete_gamma(y + 1.0, mean).tails();
    (upper, lower)
}

/// Clustered events: variance `mean + mean^2 / theta`.
pub fn negative_binomial_tails(y: f64, theta: f64, mean: f64) -> (f64, f64) {
    if y < 0.0 {
        return (0.0, 1.0);
    }
    beta_tails(theta, y + 1.0, theta / (theta + mean), mean / (theta + mean))
}

fn beta_tails(a: f64, b: f64, x: f64, y: f64) -> (f64, f64) {
    incomplete_beta(&BetaPoint { a, b, x, y, excess: b * x - a * y }).tails()
}
