//! Means of transformed values, transformed back.

use super::Transform;
use crate::MeansTable;
use serde::{Deserialize, Serialize};

/// Means of one term, transformed back.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct BackTable {
    /// Names of the factors; empty for the table of all treatments with controls.
    pub term: Vec<String>,
    /// Name for people.
    pub label: String,
    /// In the order of the analysis' table.
    pub cells: Vec<BackCell>,
}

/// One mean, transformed back: a typical plot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct BackCell {
    /// Name for people.
    pub label: String,
    /// The mean of the transformed values, transformed back.
    pub mean: f64,
    /// Lower end of the interval, transformed back.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
}

pub(super) fn table(table: &MeansTable, transform: Transform) -> BackTable {
    let cell = |cell: &crate::MeanCell| BackCell {
        label: cell.label.clone(),
        mean: transform.back(cell.mean),
        lower: cell.lower.map(|value| transform.back(value)),
        upper: cell.upper.map(|value| transform.back(value)),
    };
    BackTable { term: table.term.clone(), label: table.label.clone(), cells: table.cells.iter().map(cell).collect() }
}
