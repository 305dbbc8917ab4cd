//! Whether a difference is smaller than matters.

use serde::{Deserialize, Serialize};

/// Two one-sided tests against a margin.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Equivalence {
    /// The smallest difference that matters, in the response's unit.
    pub margin: f64,
    /// One-sided level of either test.
    pub level: f64,
    /// p of the test that the true value is above `-margin`.
    pub p_above: f64,
    /// p of the test that the true value is below `margin`.
    pub p_below: f64,
    /// The larger of the two.
    pub p: f64,
    /// Lower end of the interval that decides (90 % at level 0.05).
    pub lower: f64,
    /// Upper end of that interval.
    pub upper: f64,
    /// Whether the interval lies within the margin on both sides.
    pub equivalent: bool,
    /// Whether any estimate could have been called equivalent: half the interval is narrower than the margin.
    pub reachable: bool,
}
