//! What the mean squares of the strata estimate.
//!
//! A stratum's expected mean square is the sum, over itself and the strata inside it, of the class size times the variance. So
//! each variance is a sum of mean squares with signs, and so is the error of a stratum that has none of its own, and that of the
//! grand mean.

use super::lattice::Node;
use crate::matrix::add_scaled;

/// Sums of mean squares, as weights over the strata.
#[derive(Debug, Clone)]
pub(crate) struct ExpectedMeanSquares {
    /// For each stratum the variance of its comparisons.
    pub of_stratum: Vec<Vec<f64>>,
    /// The variance of the grand mean, times the number of plots.
    pub of_grand_mean: Vec<f64>,
    /// For each stratum its own variance times its class size; nothing (all zero) where it has none.
    pub own: Vec<Vec<f64>>,
}

impl ExpectedMeanSquares {
    /// For strata with coarser ones first.
    pub fn of(nodes: &[Node]) -> Self {
        let count = nodes.len();
        let mut own = vec![vec![0.0; count]; count];
        let mut of_stratum = vec![vec![0.0; count]; count];
        for index in (0..count).rev() {
            let finer = (index + 1..count).filter(|&finer| nodes[finer].coarser.contains(&index));
            let mut inside = vec![0.0; count];
            finer.for_each(|finer| add_scaled(&mut inside, 1.0, &own[finer].clone()));
            if nodes[index].term.is_some() {
                of_stratum[index][index] = 1.0;
                own[index][index] = 1.0;
                add_scaled(&mut own[index], -1.0, &inside);
            } else {
                of_stratum[index] = inside;
            }
        }
        let mut of_grand_mean = vec![0.0; count];
        own.iter().for_each(|variance| add_scaled(&mut of_grand_mean, 1.0, variance));
        Self { of_stratum, of_grand_mean, own }
    }
}
