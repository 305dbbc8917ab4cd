//! The columns that tell each plot's units, checked against the arrangement.

use super::Division;
use crate::{Experiment, InferenceError};

/// Checks that every unit which holds others has a column, and that no column is for a unit that is not there.
pub(crate) fn check_units(experiment: &Experiment) -> Result<(), InferenceError> {
    let names = experiment.blocks.units();
    for (position, (unit, _)) in experiment.units.iter().enumerate() {
        let repeated = experiment.units[..position].iter().any(|(earlier, _)| earlier == unit);
        if repeated || !names.contains(unit) {
            return Err(InferenceError::UnknownUnit { unit: unit.clone() });
        }
    }
    let strata = experiment.blocks.strata();
    let outer = &strata[..strata.len().saturating_sub(1)];
    let needed = names.iter().filter(|name| outer.iter().any(|stratum| stratum.units.contains(name)));
    match needed.into_iter().find(|name| unit_column(experiment, name).is_none()) {
        Some(unit) => Err(InferenceError::UnitNotGiven { unit: unit.clone() }),
        None => Ok(()),
    }
}

/// Each plot's index of this unit.
pub(crate) fn unit_column<'a>(experiment: &'a Experiment, unit: &str) -> Option<&'a [usize]> {
    experiment.units.iter().find(|(name, _)| name == unit).map(|(_, labels)| labels.as_slice())
}

/// The units with these labels among the given plots. Without labels for its innermost unit each plot is its own.
pub(crate) fn divided_by_units(experiment: &Experiment, units: &[String], plots: &[usize]) -> Division {
    let columns: Option<Vec<&[usize]>> = units.iter().map(|unit| unit_column(experiment, unit)).collect();
    let Some(columns) = columns else { return Division::into_plots(plots.len()) };
    columns.iter().fold(Division::whole(plots.len()), |division, column| {
        division.refined_by(plots.iter().map(|&plot| column[plot]))
    })
}

/// What people call a unit with this index: its own name where one was given, else its number.
pub(crate) fn unit_label(experiment: &Experiment, unit: &str, index: usize) -> String {
    let names = experiment.unit_labels.iter().find(|(name, _)| name == unit).map(|(_, labels)| labels);
    names.and_then(|labels| labels.get(index)).cloned().unwrap_or_else(|| format!("{unit} {index}"))
}
