//! What happened on the ground: season notes, operations, deviations, harvest, exclusions.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::table::Table;

/// The season as the report tells it.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct Season {
    /// Weather and course of the season, one paragraph each.
    #[serde(default)]
    pub notes: Vec<String>,
    /// Operations with their dates.
    #[serde(default)]
    pub operations: Option<Table>,
    /// What went otherwise than planned, by plot.
    #[serde(default)]
    pub deviations: Option<Table>,
}

/// Harvest figures, raw and standardised side by side.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct Harvest {
    /// How mass, moisture and measured area became yield, with the standard moisture.
    pub sentence: String,
    /// Per plot or per treatment: mass, moisture, harvested area, raw and standardised yield.
    pub table: Table,
}

/// Plots left out of the analysis.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct Exclusions {
    /// `No plot was excluded.`, or how many, by which rule, declared when.
    pub sentence: String,
    /// Which plots and why; results with and without.
    #[serde(default)]
    pub table: Option<Table>,
}
