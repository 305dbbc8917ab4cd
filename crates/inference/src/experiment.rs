//! What is analysed: one response on the plots of one arrangement.

use guardrow_design::{BlockStructure, Scope, TreatmentStructure};
use serde::{Deserialize, Serialize};

/// One response with the units and treatments of every plot.
///
/// All vectors that run over plots have the same length, plots in any order. [`Experiment::new`] makes one from what every
/// trial has; what only some trials have is set on its fields afterwards.
#[derive(Debug, Clone, PartialEq)]
pub struct Experiment {
    /// Units of the ground; the innermost unit is the plot (or the subsample, where plots were sampled).
    pub blocks: BlockStructure,
    /// For each kind of unit in `blocks`, by name: each plot's unit, as an index that need only be unique within
    /// the unit that it is nested in. The plot itself may be left out.
    pub units: Vec<(String, Vec<usize>)>,
    /// For units whose names people know (sites, years): the name of index 0, 1, ...; others are called by their number.
    pub unit_labels: Vec<(String, Vec<String>)>,
    /// Factors and controls.
    pub treatments: TreatmentStructure,
    /// For each plot the index of its treatment in `treatments.treatments()`.
    pub treatment: Vec<usize>,
    /// For each plot the value, in one unit; `None` where there is none.
    pub response: Vec<Option<f64>>,
    /// Other measures of the plots for which the treatments are to be adjusted (analysis of covariance).
    pub covariates: Vec<Covariate>,
    /// Names of the units in `blocks` that are places or seasons: the treatments may do differently in each of them.
    pub environments: Vec<String>,
    /// Of which places and seasons the result is to speak.
    pub scope: Scope,
    /// Names of the factors whose levels are a sample of a population, such as entries of a breeding programme.
    pub random_factors: Vec<String>,
}

/// A measure of every plot for which the response is adjusted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Covariate {
    /// Its name, such as `counted stand`.
    pub name: String,
    /// Its unit, such as `plants/m2`; for people only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// For each plot the value; `None` where there is none, and then the plot is left out.
    pub values: Vec<Option<f64>>,
}

impl Experiment {
    /// What every trial has; without covariates, in one place and season, all factors fixed. The arguments are the fields
    /// of the same names.
    pub fn new(
        blocks: BlockStructure,
        units: Vec<(String, Vec<usize>)>,
        treatments: TreatmentStructure,
        treatment: Vec<usize>,
        response: Vec<Option<f64>>,
    ) -> Self {
        Self {
            blocks,
            units,
            unit_labels: Vec::new(),
            treatments,
            treatment,
            response,
            covariates: Vec::new(),
            environments: Vec::new(),
            scope: Scope::default(),
            random_factors: Vec::new(),
        }
    }
}
