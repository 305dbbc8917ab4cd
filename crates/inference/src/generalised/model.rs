//! What is analysed, as plain values.

use super::link::ProportionLink;
use serde::{Deserialize, Serialize};

/// Counts or proportions with the treatment and the units of every observation.
///
/// All lists that run over observations have the same length, in any order; observations without a value are left out
/// beforehand.
#[derive(Debug, Clone, PartialEq)]
pub struct GeneralisedModel {
    /// What was counted.
    pub observed: Observed,
    /// Labels of all treatments of the trial.
    pub treatments: Vec<String>,
    /// For each observation the index of its treatment.
    pub treatment: Vec<usize>,
    /// Further columns of the fixed part: covariates, or indicators of units that are taken as fixed.
    pub columns: Vec<FixedColumn>,
    /// For each observation what is added to its predictor on the link's scale, such as the logarithm of the area that was
    /// counted; means are then given for an offset of zero (a unit of area).
    pub offset: Option<Vec<f64>>,
    /// Units that share an effect: blocks, main plots, rows, columns, plots (for variation beyond that of counting).
    pub groupings: Vec<Grouping>,
}

/// What was counted.
#[derive(Debug, Clone, PartialEq)]
pub enum Observed {
    /// Successes among trials, such as emerged among sown.
    Proportions {
        /// Successes of each observation, whole numbers.
        successes: Vec<f64>,
        /// Trials of each observation, whole numbers.
        trials: Vec<f64>,
        /// The scale on which treatments add.
        link: ProportionLink,
    },
    /// Numbers without an upper limit, such as plants or insects; treatments add on the logarithmic scale.
    Counts {
        /// The counts, whole numbers.
        counts: Vec<f64>,
        /// How counts vary around their mean.
        spread: CountSpread,
    },
}

/// How counts of equal mean vary, apart from the units in the model.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CountSpread {
    /// As independent events do: the variance is the mean.
    #[default]
    Poisson,
    /// As clustered events do: the variance is `mu + mu^2 / theta`, with `theta` estimated.
    NegativeBinomial,
}

/// A column of the fixed part.
#[derive(Debug, Clone, PartialEq)]
pub struct FixedColumn {
    /// Its name for people.
    pub name: String,
    /// One value per observation.
    pub values: Vec<f64>,
}

/// A division of the observations into units that share an effect.
#[derive(Debug, Clone, PartialEq)]
pub struct Grouping {
    /// Its name for people, such as `block`.
    pub name: String,
    /// The unit of each observation, counted from 0. Units of nested groupings have numbers of their own: the first main plot
    /// of the second block is not 0 again.
    pub class: Vec<usize>,
    /// Number of units.
    pub classes: usize,
}

impl Grouping {
    /// A grouping in which every observation is a unit of its own: what plots vary beyond the variation of counting.
    pub fn each_observation(name: &str, observations: usize) -> Self {
        Self { name: name.to_owned(), class: (0..observations).collect(), classes: observations }
    }
}

impl Observed {
    /// Number of observations.
    pub fn count(&self) -> usize {
        match self {
            Self::Proportions { successes, .. } => successes.len(),
            Self::Counts { counts, .. } => counts.len(),
        }
    }
}
