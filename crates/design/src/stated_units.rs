//! Units stated one by one, for a trial that was laid out elsewhere.

use crate::{BlockStructure, PLOT};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Any units that nest and cross, with the unit that each factor was randomised to.
///
/// It covers what has no name of its own: a trial at several sites and years, subsamples within plots, strips split again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct StatedUnits {
    /// How often each treatment stands in the trial, for saying how many more would decide.
    pub replicates: usize,
    /// The units, outermost first: `/` for nested in, ` x ` for crossed with, as in `site / block / (row x column)`.
    #[schema(value_type = String)]
    pub units: BlockStructure,
    /// The unit of each factor that was not randomised to plots, by the factor's name.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub randomised_to: BTreeMap<String, String>,
    /// Units that are places or years, such as `site` and `year`: treatments may act differently from one to another.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub environments: Vec<String>,
    /// Whether the answer is for these places and years alone.
    #[serde(default)]
    pub scope: Scope,
    /// Factors whose levels are a sample of many, such as entries of a variety trial.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub random_factors: Vec<String>,
}

/// What a trial over places and years is to speak about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Scope {
    /// The places and years of the trial themselves: treatments are judged by the plots.
    #[default]
    TheseEnvironments,
    /// Places and years like these: treatments are judged by how much their effects differ between them.
    EnvironmentsLikeThese,
}

impl StatedUnits {
    /// The unit that a factor was randomised to: the one stated, else the plot, where plots are not the smallest unit.
    pub(crate) fn unit_of(&self, factor: &str) -> Option<&str> {
        let stated = self.randomised_to.get(factor).map(String::as_str);
        let strata = self.units.strata();
        let innermost = strata.last().is_some_and(|stratum| stratum.name == PLOT);
        stated.or_else(|| (!innermost && self.units.units().iter().any(|unit| unit == PLOT)).then_some(PLOT))
    }
}
