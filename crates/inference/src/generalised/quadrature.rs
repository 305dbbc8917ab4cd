//! How far Laplace's approximation can be trusted: the same model with the integral over units by quadrature.

use super::fit::{FittedLikelihood, GeneralisedFit};
use super::link::Link;
use super::model::GeneralisedModel;
use crate::InferenceError;
use serde::{Deserialize, Serialize};

/// The maximum with the integral over units by adaptive Gauss-Hermite quadrature.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Quadrature {
    /// Points of the rule for each unit.
    pub points: usize,
    /// Log-likelihood, constants included.
    pub log_likelihood: f64,
    /// Mean of every treatment on the link's scale; none where the fit has none.
    pub means: Vec<Option<f64>>,
    /// Standard deviations of the groupings, in the order of the fit's components.
    pub sd: Vec<f64>,
    /// The largest difference of a mean from the fit's, in standard errors of that mean.
    pub largest_shift: f64,
}

/// Fits the model by Laplace and, as a check on it, by quadrature.
///
/// Nothing beside the fit where there is no grouping, where there are more than two, or two that cross: then the integral has
/// many dimensions and no rule is used. `points` between 1 and 100; one point is Laplace's approximation.
///
/// # Errors
/// As [`super::fit`]; [`InferenceError::Setting`] for `points`.
pub fn by_quadrature(
    model: &GeneralisedModel,
    points: usize,
) -> Result<(GeneralisedFit, Option<Quadrature>), InferenceError> {
    if !(1..=100).contains(&points) {
        let (what, expected) = ("the number of points".to_owned(), "from 1 to 100".to_owned());
        return Err(InferenceError::Setting { what, value: points as f64, expected });
    }
    super::fit::fit_with(model, Some(points), FittedLikelihood::Full)
}

/// The average of the link's inverse over normal predictors.
///
/// The trapezoid rule converges here faster than any power of its step (Trefethen & Weideman 2014, SIAM Review 56:385-458).
pub(crate) fn average_of_natural(link: Link, eta: f64, sd: f64) -> f64 {
    if link == Link::Log {
        return (eta + 0.5 * sd * sd).exp();
    }
    const STEP: f64 = 0.25;
    let term = |k: i32| {
        let z = STEP * f64::from(k);
        STEP * crate::distribution::normal_density(z) * link.natural(eta + sd * z)
    };
    (-36..=36).map(term).sum()
}
