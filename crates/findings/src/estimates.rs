//! Where differences between treatments come from: one analysed measure.

use guardrow_inference::{Analysis, DiscreteAnalysis};
use serde::{Deserialize, Serialize};

use crate::{Bounds, Estimate, FindingError, Interval};

/// An analysed measure that can tell the difference for any weights over the treatments.
pub trait Estimates {
    /// The weighted sum of treatment means with its standard error and degrees of freedom.
    ///
    /// - `weights`: one per treatment, in the order of the treatment structure; they sum to zero
    ///
    /// # Errors
    /// In words, when the plots cannot tell it.
    fn difference(&self, weights: &[f64]) -> Result<Estimate, String>;
}

impl Estimates for Analysis {
    fn difference(&self, weights: &[f64]) -> Result<Estimate, String> {
        self.contrast(weights).map_err(|error| error.to_string())
    }
}

impl Estimates for DiscreteAnalysis {
    fn difference(&self, weights: &[f64]) -> Result<Estimate, String> {
        self.contrast(weights).map_err(|error| error.to_string())
    }
}

/// The numbers of one difference, first option minus second, in the unit of the measure's differences.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Numbers {
    /// First minus second.
    pub estimate: f64,
    /// Its standard error.
    pub se: f64,
    /// Degrees of freedom of the standard error.
    pub df: f64,
    /// The interval for direction: 95 % at the 5 % level.
    pub interval: Interval,
    /// The interval for equivalence: 90 % at the 5 % level.
    pub equivalence: Interval,
}

impl Numbers {
    /// The numbers of `estimate` for tests with risk `alpha` (a share).
    ///
    /// # Errors
    /// [`FindingError::NoInterval`].
    pub fn of(estimate: &Estimate, alpha: f64) -> Result<Numbers, FindingError> {
        let Bounds { interval, equivalence, .. } = Bounds::of(estimate, alpha)?;
        Ok(Numbers { estimate: estimate.estimate, se: estimate.se, df: estimate.df, interval, equivalence })
    }

    /// The numbers as the table of verdicts takes them: turned round when a lower value is what is claimed.
    pub fn bounds(&self, lower_is_as_claimed: bool) -> Bounds {
        let bounds = Bounds { estimate: self.estimate, interval: self.interval, equivalence: self.equivalence };
        if lower_is_as_claimed { bounds.mirrored() } else { bounds }
    }
}
