//! What was fitted, observation by observation, and what is left.

use super::edge::Observations;
use super::fit::GeneralisedFit;
use super::link::Link;
use super::model::{GeneralisedModel, Observed};
use crate::InferenceError;
use crate::distribution::{binomial_tails, negative_binomial_tails, normal_quantile, poisson_tails};
use serde::{Deserialize, Serialize};

/// One observation with what the model makes of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct FittedObservation {
    /// The count.
    pub observed: f64,
    /// Out of how many, for proportions.
    pub trials: Option<f64>,
    /// The expected count, units' effects included.
    pub fitted: f64,
    /// The same on the link's scale (for a proportion that of the proportion); none for treatments at the edge.
    pub predictor: Option<f64>,
    /// Observed less fitted, over the standard deviation that the model gives.
    pub pearson: f64,
    /// Signed root of the observation's part of the deviance.
    pub deviance: f64,
}

/// All observations in the order given; `predictor` runs over those used.
pub(crate) fn of(
    model: &GeneralisedModel,
    observations: &Observations,
    link: Link,
    predictor: &[f64],
    alpha: f64,
) -> Vec<FittedObservation> {
    let mut all: Vec<FittedObservation> = (0..model.treatment.len()).map(|i| at_edge(&model.observed, i)).collect();
    for (&i, &eta) in observations.used.iter().zip(predictor) {
        all[i] = fitted(all[i], link, eta, alpha);
    }
    all
}

/// Where nothing or everything was counted, that is what is expected.
fn at_edge(observed: &Observed, i: usize) -> FittedObservation {
    let (observed, trials) = match observed {
        Observed::Proportions { successes, trials, .. } => (successes[i], Some(trials[i])),
        Observed::Counts { counts, .. } => (counts[i], None),
    };
    FittedObservation { observed, trials, fitted: observed, predictor: None, pearson: 0.0, deviance: 0.0 }
}

fn fitted(at: FittedObservation, link: Link, eta: f64, alpha: f64) -> FittedObservation {
    let natural = link.natural(eta);
    let y = at.observed;
    let (fitted, variance, deviance) = match at.trials {
        Some(n) => {
            let mean = n * natural;
            let deviance = times_log(y, mean) + times_log(n - y, n - mean);
            (mean, mean * (1.0 - natural), deviance)
        }
        None if alpha > 0.0 => {
            let above = (1.0 + alpha * y) / (1.0 + alpha * natural);
            (natural, natural * (1.0 + alpha * natural), times_log(y, natural) - (y + 1.0 / alpha) * above.ln())
        }
        None => (natural, natural, times_log(y, natural) - (y - natural)),
    };
    let sign = if y < fitted { -1.0 } else { 1.0 };
    let deviance = sign * (2.0 * deviance).max(0.0).sqrt();
    FittedObservation { fitted, predictor: Some(eta), pearson: (y - fitted) / variance.sqrt(), deviance, ..at }
}

/// `y log(y / mean)`, nothing for `y` of zero.
fn times_log(y: f64, mean: f64) -> f64 {
    if y > 0.0 { y * (y / mean).ln() } else { 0.0 }
}

impl GeneralisedFit {
    /// Randomised quantile residuals: standard normal when the model holds, also for small counts. One uniform number
    /// between 0 and 1 per observation spreads each count over its own probability.
    ///
    /// Observations of treatments at the edge, where nothing is left over, give none.
    ///
    /// # Errors
    /// [`InferenceError::Length`]; [`InferenceError::Setting`] for a number outside 0 to 1.
    /// # Source
    /// Dunn & Smyth (1996), J. Comput. Graph. Stat. 5:236-244.
    pub fn quantile_residuals(&self, uniform: &[f64]) -> Result<Vec<Option<f64>>, InferenceError> {
        let (found, expected) = (uniform.len(), self.observations.len());
        if found != expected {
            return Err(InferenceError::Length { list: "the list of uniform numbers".into(), found, expected });
        }
        if let Some(&value) = uniform.iter().find(|value| !(0.0..=1.0).contains(*value)) {
            let (what, expected) = ("a uniform number".to_owned(), "between 0 and 1".to_owned());
            return Err(InferenceError::Setting { what, value, expected });
        }
        Ok(self.observations.iter().zip(uniform).map(|(it, &uniform)| self.quantile_residual(it, uniform)).collect())
    }

    fn quantile_residual(&self, at: &FittedObservation, uniform: f64) -> Option<f64> {
        at.predictor?;
        let tails = |y: f64| match (at.trials, self.negative_binomial.and_then(|it| it.theta)) {
            (Some(trials), _) => binomial_tails(y, trials, at.fitted / trials),
            (None, Some(theta)) => negative_binomial_tails(y, theta, at.fitted),
            (None, None) => poisson_tails(y, at.fitted),
        };
        let ((below, _), (upto, above)) = (tails(at.observed - 1.0), tails(at.observed));
        let lower = below + uniform * (upto - below);
        // each tail from its own side, so that a residual far out keeps its digits
        let upper = above + (1.0 - uniform) * (upto - below).max(0.0);
        let residual = if lower < 0.5 { normal_quantile(lower) } else { -normal_quantile(upper) };
        Some(residual.clamp(-38.0, 38.0))
    }
}
