//! What the reader may choose about an analysis.

use crate::InferenceError;
use serde::{Deserialize, Serialize};

/// Choices that hold for a whole analysis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default)]
pub struct Options {
    /// Two-sided level of tests, intervals and LSD; between 0 and 0.5.
    pub level: f64,
    /// When means get letters.
    pub letters: Letters,
    /// Which method leads.
    pub method: Method,
    /// When the analysis with fixed units is given beside.
    pub fixed_units: FixedUnitsWhen,
}

/// When the means of a table get letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Letters {
    /// Only where every factor of the table is qualitative.
    #[default]
    Unstructured,
    /// In every table, on the reader's own insistence.
    Always,
    /// In no table.
    Never,
}

/// Which method the means and leading tests come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// The strata where the layout is orthogonal, else the mixed model.
    #[default]
    ByLayout,
    /// The mixed model even where the layout is orthogonal.
    Mixed,
}

/// When least squares with blocks, rows and columns as fixed effects is given beside the leading analysis.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FixedUnitsWhen {
    /// Where the layout as observed is not orthogonal.
    #[default]
    NotOrthogonal,
    /// Wherever it can be computed.
    Always,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            level: 0.05,
            letters: Letters::default(),
            method: Method::default(),
            fixed_units: FixedUnitsWhen::default(),
        }
    }
}

impl Options {
    pub(crate) fn check(&self) -> Result<(), InferenceError> {
        if self.level > 0.0 && self.level < 0.5 {
            return Ok(());
        }
        let (what, expected) = ("the level".to_owned(), "above 0 and below 0.5".to_owned());
        Err(InferenceError::Setting { what, value: self.level, expected })
    }
}
