//! The fixed part of the model: one mean for each fixed treatment in each fixed environment.

use super::{EnvironmentStratum, Environments};
use crate::{Experiment, InferenceError, Scope};
use guardrow_design::{Factor, TreatmentStructure};

/// A combination of the levels of the fixed factors, or a control beside them.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FixedTreatment {
    /// Name for people.
    pub label: String,
    /// Level of each fixed factor; none for a control.
    pub levels: Option<Vec<usize>>,
}

/// The cells, whether a plot has them or not: cell `environment * treatments + treatment`.
#[derive(Debug, Clone)]
pub(crate) struct Cells {
    /// The fixed factors.
    pub factors: Vec<Factor>,
    /// Combinations of their levels (one without any), then the controls.
    pub treatments: Vec<FixedTreatment>,
    /// For each treatment of the trial the one that it is here.
    pub of_treatment: Vec<usize>,
    /// Places and seasons that are fixed.
    pub environments: Environments,
    /// The environment of each used plot.
    pub environment: Vec<usize>,
    /// For each cell its index among those with a value.
    pub present: Vec<Option<usize>>,
    /// Number of plots of each cell with a value.
    pub replication: Vec<f64>,
}

impl Cells {
    /// The cells with, for each used plot, its cell among those present.
    pub fn of(experiment: &Experiment, used: &[usize], strata: &[EnvironmentStratum]) -> (Self, Vec<usize>) {
        let (environments, environment) = match experiment.scope {
            Scope::TheseEnvironments => Environments::fixed(experiment, used, strata),
            Scope::EnvironmentsLikeThese => Environments::none(used.len()),
        };
        let (factors, treatments, of_treatment) = fixed_treatments(experiment);
        let count = environments.count * treatments.len();
        let cell = |position: usize| {
            environment[position] * treatments.len() + of_treatment[experiment.treatment[used[position]]]
        };
        let cell: Vec<usize> = (0..used.len()).map(cell).collect();
        let mut plots = vec![0.0; count];
        cell.iter().for_each(|&cell| plots[cell] += 1.0);
        let replication: Vec<f64> = plots.iter().copied().filter(|&plots| plots > 0.0).collect();
        let mut next = 0..;
        let present: Vec<Option<usize>> =
            plots.iter().map(|&plots| if plots > 0.0 { next.next() } else { None }).collect();
        let of_plot = cell.iter().filter_map(|&cell| present[cell]).collect();
        (Self { factors, treatments, of_treatment, environments, environment, present, replication }, of_plot)
    }

    /// Number of cells, present or not.
    pub fn count(&self) -> usize {
        self.present.len()
    }

    /// The cells of one treatment, over the environments.
    pub fn of_fixed_treatment(&self, treatment: usize) -> impl Iterator<Item = usize> + use<> {
        let treatments = self.treatments.len();
        (0..self.environments.count).map(move |environment| environment * treatments + treatment)
    }

    /// What a cell is called.
    pub fn label(&self, cell: usize) -> String {
        let treatment = &self.treatments[cell % self.treatments.len()].label;
        match self.environments.label(cell / self.treatments.len()) {
            Some(environment) => format!("{treatment} ({environment})"),
            None => treatment.clone(),
        }
    }

    /// Whether some treatments stand outside the factorial.
    pub fn has_controls(&self) -> bool {
        self.treatments.iter().any(|it| it.levels.is_none())
    }
}

/// Whether the levels of a factor are a sample.
pub(crate) fn is_sampled(experiment: &Experiment, factor: &Factor) -> bool {
    experiment.random_factors.contains(&factor.name)
}

/// Checks the factors and that those said to be a sample are there.
pub(crate) fn check_factors(experiment: &Experiment) -> Result<(), InferenceError> {
    let factors = &experiment.treatments.factors;
    if factors.is_empty() {
        return Err(InferenceError::NoFactor);
    }
    if let Some(name) = experiment.random_factors.iter().find(|name| factors.iter().all(|it| it.name != **name)) {
        return Err(InferenceError::UnknownFactor { factor: name.clone() });
    }
    match factors.iter().find(|factor| factor.levels.len() < 2) {
        Some(factor) => Err(InferenceError::TooFewLevels { factor: factor.name.clone() }),
        None => Ok(()),
    }
}

fn fixed_treatments(experiment: &Experiment) -> (Vec<Factor>, Vec<FixedTreatment>, Vec<usize>) {
    let all = &experiment.treatments;
    let is_fixed: Vec<bool> = all.factors.iter().map(|factor| !is_sampled(experiment, factor)).collect();
    let fixed = |factor: &usize| is_fixed[*factor];
    let factors: Vec<Factor> = (0..all.factors.len()).filter(fixed).map(|it| all.factors[it].clone()).collect();
    let structure = TreatmentStructure { factors: factors.clone(), controls: all.controls.clone() };
    let mut treatments: Vec<FixedTreatment> = structure
        .treatments()
        .into_iter()
        .map(|it| FixedTreatment { label: it.label, levels: (!it.levels.is_empty()).then_some(it.levels) })
        .collect();
    if factors.is_empty() {
        let names: Vec<&str> = all.factors.iter().map(|factor| factor.name.as_str()).collect();
        let label = format!("mean over {}", names.join(" and "));
        treatments.insert(0, FixedTreatment { label, levels: Some(Vec::new()) });
    }
    let combinations = treatments.len() - all.controls.len();
    let mut control = combinations..;
    let of_treatment = all.treatments().into_iter().map(|it| {
        if it.levels.is_empty() {
            return control.next().unwrap_or_default();
        }
        let chosen = it.levels.iter().enumerate().filter(|(factor, _)| is_fixed[*factor]);
        chosen.fold(0, |index, (factor, &level)| index * all.factors[factor].levels.len() + level)
    });
    (factors, treatments, of_treatment.collect())
}
