//! Places and seasons: where the treatments may do differently.

use super::Division;
use super::unit_columns::{divided_by_units, unit_column, unit_label};
use crate::{Experiment, InferenceError, Notice};

/// One kind of place or season (site, year, site in year), as met by the used plots.
#[derive(Debug, Clone)]
pub(crate) struct EnvironmentStratum {
    /// Units that together label one of them.
    pub units: Vec<String>,
    /// Name for people.
    pub name: String,
    /// Each used plot's.
    pub division: Division,
}

/// Places and seasons as a fixed part of the model, in every combination that was met.
#[derive(Debug, Clone, Default)]
pub(crate) struct Environments {
    /// Number of combinations met; 1 without any.
    pub count: usize,
    /// Their main effects and interactions, coarser ones first.
    pub terms: Vec<EnvironmentTerm>,
}

/// A main effect or interaction among places and seasons.
#[derive(Debug, Clone)]
pub(crate) struct EnvironmentTerm {
    /// Names of the units.
    pub names: Vec<String>,
    /// Name for people.
    pub label: String,
    /// For each environment its class in this term.
    pub class: Vec<usize>,
    /// What each class is called: one label for each name.
    pub levels: Vec<Vec<String>>,
}

/// The kinds of place and season that vary among these plots, coarser ones first.
///
/// # Errors
/// [`InferenceError::UnknownEnvironment`] for a name that is no unit of the arrangement or is the plot itself.
pub(crate) fn environment_strata(
    experiment: &Experiment,
    used: &[usize],
) -> Result<(Vec<EnvironmentStratum>, Vec<Notice>), InferenceError> {
    let strata = experiment.blocks.strata();
    let innermost = strata.last().map(|stratum| stratum.units.clone()).unwrap_or_default();
    let outer = |name: &String| strata[..strata.len() - 1].iter().any(|stratum| stratum.units.contains(name));
    if let Some(name) = experiment.environments.iter().find(|name| !innermost.contains(name) || !outer(name)) {
        return Err(InferenceError::UnknownEnvironment { unit: name.clone() });
    }
    let (mut found, mut notices): (Vec<EnvironmentStratum>, Vec<Notice>) = (Vec::new(), Vec::new());
    for stratum in strata {
        if !stratum.units.iter().all(|unit| experiment.environments.contains(unit)) {
            continue;
        }
        let division = divided_by_units(experiment, &stratum.units, used);
        if division.classes == 1 {
            notices.push(Notice::OneEnvironment { unit: stratum.name });
        } else if !found.iter().any(|other| other.division.is_same_as(&division)) {
            found.push(EnvironmentStratum { units: stratum.units, name: stratum.name, division });
        }
    }
    Ok((found, notices))
}

impl Environments {
    /// These environments as fixed, with each used plot's.
    pub fn fixed(experiment: &Experiment, used: &[usize], strata: &[EnvironmentStratum]) -> (Self, Vec<usize>) {
        let all = strata
            .iter()
            .fold(Division::whole(used.len()), |all, stratum| all.refined_by(stratum.division.class.iter().copied()));
        let first = all.first_plots();
        let terms = strata.iter().map(|stratum| EnvironmentTerm {
            names: stratum.units.clone(),
            label: stratum.name.clone(),
            class: first.iter().map(|&plot| stratum.division.class[plot]).collect(),
            levels: levels(experiment, used, stratum),
        });
        (Self { count: all.classes, terms: terms.collect() }, all.class)
    }

    /// None at all: one place and season, or a result that is to speak of places and seasons like these.
    pub fn none(plots: usize) -> (Self, Vec<usize>) {
        (Self { count: 1, terms: Vec::new() }, vec![0; plots])
    }

    /// What one environment is called.
    pub fn label(&self, environment: usize) -> Option<String> {
        let finest = self.terms.iter().max_by_key(|term| term.levels.len())?;
        Some(finest.levels[finest.class[environment]].join(", "))
    }
}

/// What each class of a kind of place or season is called: one label for each of its units.
pub(crate) fn levels(experiment: &Experiment, used: &[usize], stratum: &EnvironmentStratum) -> Vec<Vec<String>> {
    let label = |unit: &String, position: usize| {
        let index = unit_column(experiment, unit).map_or(position, |column| column[used[position]]);
        unit_label(experiment, unit, index)
    };
    let first = stratum.division.first_plots();
    first.into_iter().map(|position| stratum.units.iter().map(|unit| label(unit, position)).collect()).collect()
}
