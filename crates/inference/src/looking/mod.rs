//! Looking at what the model leaves: residuals, plots out of line, errors that differ between groups.
//!
//! All of it is plain data, so that a page and a print draw the same.

mod groups;
mod homogeneity;
mod outliers;
mod residuals;
mod transformation;

pub use groups::{GroupRow, GroupSpread};
pub use homogeneity::{Bartlett, EnvironmentError, Homogeneity, bartlett, homogeneity};
pub use outliers::{Outlier, Outliers};
pub use residuals::StudentisedResidual;
pub use transformation::{Suggestion, Transformation};

use crate::{Analysis, InferenceError};
use serde::{Deserialize, Serialize};

/// What the leading model leaves, looked at in every way.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Looking {
    /// Degrees of freedom of the error between plots that residuals are measured by.
    pub error_df: f64,
    /// One entry per used plot, in the order of `Analysis::residuals`.
    pub residuals: Vec<StudentisedResidual>,
    /// Plots out of line, by a stated rule.
    pub outliers: Outliers,
    /// Spread of the residuals by treatment, by each kind of unit that stands in no other, by place and season.
    pub groups: Vec<GroupSpread>,
    /// Whether the spread grows with the mean, and what transformation would even it out; none when it cannot be told.
    pub transformation: Option<Transformation>,
}

impl Analysis {
    /// Looks at the residuals of the leading model.
    ///
    /// # Errors
    /// [`InferenceError::FitNotKept`] when the analysis was read back from a file.
    pub fn looking(&self) -> Result<Looking, InferenceError> {
        let kept = self.kept()?;
        let (residuals, error_df) = residuals::studentised(kept, &self.residuals);
        let groups = groups::groups(kept, &residuals);
        let transformation =
            groups.first().and_then(|by_treatment| transformation::suggested(by_treatment, self.level));
        let outliers = outliers::flagged(&residuals, error_df, self.level);
        Ok(Looking { error_df, residuals, outliers, groups, transformation })
    }
}
