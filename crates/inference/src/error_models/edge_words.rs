//! Edges of the likelihood in words.

use crate::correlated_errors::Edge;

impl Edge {
    /// The edge as one sentence.
    pub fn sentence(&self) -> String {
        match self {
            Self::VarianceAtZero { part, group: None } => format!("The variance of '{part}' is estimated at zero."),
            Self::VarianceAtZero { part, group: Some(group) } => {
                format!("The variance of '{part}' for '{group}' is estimated at zero.")
            }
            Self::CorrelationAtOne { part, axis } => {
                format!("The correlation of '{part}' along {axis} is estimated at one: it is the same all along.")
            }
            Self::NoInteriorMaximum { part, axes, .. } => format!(
                "The correlation of '{part}' along {} runs to one and its variance without limit; what is given is the limit, a walk with independent steps.",
                axes.join(" and ")
            ),
            Self::CorrelationAtMinusOne { part, axis } => {
                format!(
                    "The correlation of '{part}' along {axis} is estimated at minus one: neighbours are opposites, which hardly describes ground."
                )
            }
            Self::NotToldApart { part } => {
                format!("'{part}' cannot be told from the means and the other parts of the model, and was left out.")
            }
        }
    }
}
