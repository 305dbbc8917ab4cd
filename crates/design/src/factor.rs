//! A factor and its levels.

use serde::{Deserialize, Serialize};

/// Something that is varied on purpose, with the levels it is set to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Factor {
    /// Name as the trial uses it, unique in the trial.
    pub name: String,
    /// Whether the levels are names or amounts.
    #[serde(default)]
    pub scale: Scale,
    /// At least two levels, in the order that tables use.
    pub levels: Vec<Level>,
}

/// Whether a factor's levels are names or amounts of something.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Scale {
    /// Names without order of size (varieties, products).
    #[default]
    Qualitative,
    /// Amounts on one scale (rates, dates as day numbers, spacings).
    Quantitative {
        /// Unit of every level's amount, as in the unit table.
        unit: String,
    },
}

/// One level of a factor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Level {
    /// Short name for tables, maps and signs, unique in its factor.
    pub label: String,
    /// Amount in the factor's unit; present exactly when the factor is quantitative.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amount: Option<f64>,
}
