//! Estimated quantities of a curve, and intervals that may be open.

use super::points::ErrorOf;
use crate::distribution::t_quantile;
use serde::{Deserialize, Serialize};

/// An estimate with its error where that is known.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Quantity {
    /// The estimate.
    pub estimate: f64,
    /// Its standard error, by the curve's derivatives (delta method).
    pub se: Option<f64>,
    /// Degrees of freedom of the standard error.
    pub df: Option<f64>,
    /// Lower end of the interval `estimate - t se`.
    pub lower: Option<f64>,
    /// Upper end of the interval `estimate + t se`.
    pub upper: Option<f64>,
}

impl Quantity {
    pub(super) fn new(estimate: f64, error: Option<ErrorOf>, level: f64) -> Self {
        // degrees of freedom near zero leave an interval without ends
        let half = error.map(|it| -t_quantile(0.5 * level, it.df) * it.se).filter(|half| half.is_finite());
        Self {
            estimate,
            se: error.map(|it| it.se),
            df: error.map(|it| it.df),
            lower: half.map(|half| estimate - half),
            upper: half.map(|half| estimate + half),
        }
    }
}

/// An interval of amounts; an end that nothing bounds within reach of the tested amounts is left open.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct AmountInterval {
    /// Lower end; none when nothing bounds it from below.
    pub lower: Option<f64>,
    /// Upper end; none when nothing bounds it from above.
    pub upper: Option<f64>,
}

impl AmountInterval {
    /// The interval in words, with amounts written by `show` (which adds the unit).
    ///
    /// ```
    /// use guardrow_inference::AmountInterval;
    /// let interval = AmountInterval { lower: Some(88.2), upper: None };
    /// let words = interval.words(|amount| format!("{amount:.0} kg/ha"));
    /// assert_eq!(words, "at least 88 kg/ha, with no upper bound within the tested range");
    /// ```
    pub fn words(&self, show: impl Fn(f64) -> String) -> String {
        match (self.lower, self.upper) {
            (Some(lower), Some(upper)) => format!("{} to {}", show(lower), show(upper)),
            (Some(lower), None) => format!("at least {}, with no upper bound within the tested range", show(lower)),
            (None, Some(upper)) => format!("at most {}, with no lower bound within the tested range", show(upper)),
            (None, None) => "no bound within the tested range".to_owned(),
        }
    }
}
