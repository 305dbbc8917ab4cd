//! The observations as the search works with them: checked, centred, in units of their own spread, classes without gaps.

use super::grouping::NetworkGrouping;
use super::nesting::Nesting;

/// Observations ready for fitting.
#[derive(Debug)]
pub(super) struct Prepared {
    /// Response minus its mean, divided by `scale`.
    pub response: Vec<f64>,
    pub mean: f64,
    pub scale: f64,
    /// The fixed classes that have observations.
    pub fixed: NetworkGrouping,
    /// Covariates minus their means, divided by their spread.
    pub covariates: Vec<Vec<f64>>,
    /// Sum of the logarithms of what the covariates were divided by.
    pub log_covariate_scales: f64,
    /// Random groupings that are fitted; the first index of [`Self::nesting`] is the fixed grouping, then these.
    pub random: Vec<NetworkGrouping>,
    /// Residual groups.
    pub residual: NetworkGrouping,
    pub weights: Option<Vec<f64>>,
    pub nesting: Nesting,
}

impl Prepared {
    /// Weight of an observation.
    pub fn weight(&self, observation: usize) -> f64 {
        self.weights.as_ref().map_or(1.0, |weights| weights[observation])
    }

    /// Degrees of freedom left by the fixed part.
    pub fn residual_df(&self) -> f64 {
        self.response.len() as f64 - self.fixed.classes as f64 - self.covariates.len() as f64
    }
}
