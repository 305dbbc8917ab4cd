//! What a network of trials observed.

use super::grouping::NetworkGrouping;

/// Observations from many sites and years, with what they may depend on.
#[derive(Debug, Clone, PartialEq)]
pub struct Network {
    /// Value of every observation, in the measure's unit; those without a value are left out by the caller, in every list.
    pub response: Vec<f64>,
    /// What is compared: each class has its own mean.
    pub fixed: NetworkGrouping,
    /// Further fixed columns, each with its name and a value for every observation.
    pub covariates: Vec<(String, Vec<f64>)>,
    /// Groupings whose classes have random effects, nested or crossed in any way.
    pub random: Vec<NetworkGrouping>,
    /// Groups with residual variances of their own; one for all when nothing is given.
    pub residual: Option<NetworkGrouping>,
    /// Known relative weights, above zero: the residual variance of an observation is that of its group divided by its weight.
    pub weights: Option<Vec<f64>>,
}

impl Network {
    /// Observations with fixed and random groupings, one residual variance, no covariates.
    pub fn new(response: Vec<f64>, fixed: NetworkGrouping, random: Vec<NetworkGrouping>) -> Self {
        Self { response, fixed, covariates: Vec::new(), random, residual: None, weights: None }
    }
}

/// How the work is done and what is wanted beside the means.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct NetworkOptions {
    /// Threads to work on; the result is the same for any number. None means one.
    pub threads: usize,
    /// Indices into [`Network::random`] of the groupings whose predictions are wanted with their standard errors.
    pub predicted: Vec<usize>,
}
