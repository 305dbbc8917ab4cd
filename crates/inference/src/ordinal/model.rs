//! What is analysed, as plain values.

use crate::generalised::{FixedColumn, Grouping, Link, ProportionLink};
use serde::{Deserialize, Serialize};

/// Scores with the treatment and the units of every row.
///
/// A row is a plot with its score, or one of several rows of a plot in which many things (tubers, leaves) were scored. All lists
/// that run over rows have the same length, in any order.
#[derive(Debug, Clone, PartialEq)]
pub struct OrdinalModel {
    /// Labels of the scores, lowest first.
    pub scores: Vec<String>,
    /// For each row the index of its score.
    pub score: Vec<usize>,
    /// For each row how many things have this score, whole numbers; rows of none are passed over.
    pub count: Vec<f64>,
    /// The hidden scale.
    pub link: ScoreLink,
    /// Labels of all treatments of the trial.
    pub treatments: Vec<String>,
    /// For each row the index of its treatment.
    pub treatment: Vec<usize>,
    /// Further columns of the fixed part: covariates, or indicators of units that are taken as fixed.
    pub columns: Vec<FixedColumn>,
    /// Units that share an effect. Where a plot has several rows, `plot` is one of them.
    pub groupings: Vec<Grouping>,
}

/// How things vary along the hidden scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ScoreLink {
    /// Logistic: differences are logarithms of odds ratios, the same at every threshold (proportional odds).
    #[default]
    Logit,
    /// Normal with standard deviation one.
    Probit,
}

impl ScoreLink {
    /// The same scale for a proportion.
    pub fn of_proportions(self) -> ProportionLink {
        match self {
            Self::Logit => ProportionLink::Logit,
            Self::Probit => ProportionLink::Probit,
        }
    }

    pub(crate) fn link(self) -> Link {
        Link::Proportion(self.of_proportions())
    }

    /// A distance on the hidden scale beyond which a share is below 1e-9.
    pub(crate) fn far(self) -> f64 {
        match self {
            Self::Logit => 20.0,
            Self::Probit => 6.0,
        }
    }
}
