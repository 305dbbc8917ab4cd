//! From the experiment to the model of counts and shares.

use super::DiscreteKind;
use crate::generalised::{FixedColumn, GeneralisedModel, Grouping, Observed, check_count};
use crate::model::Partition;
use crate::plots::Plots;
use crate::{Experiment, InferenceError};

/// Looks at every value where its plot is still known by its index in the experiment.
///
/// # Errors
/// What cannot have been counted is named with its plot.
pub(super) fn check_values(experiment: &Experiment, kind: &DiscreteKind) -> Result<(), InferenceError> {
    let expected = experiment.response.len();
    if let DiscreteKind::Counts { searched: Some(beside), .. } | DiscreteKind::Shares { of: beside, .. } = kind
        && beside.len() != expected
    {
        let list = "the list of numbers out of which was counted, or of what was searched".to_owned();
        return Err(InferenceError::Length { list, found: beside.len(), expected });
    }
    for (plot, value) in experiment.response.iter().enumerate() {
        let Some(value) = *value else { continue };
        match kind {
            DiscreteKind::Counts { searched, .. } => {
                check_count("count", plot, value)?;
                check_searched(plot, searched.as_ref().and_then(|it| it[plot]))?;
            }
            DiscreteKind::Shares { of, .. } => {
                check_count("count", plot, value)?;
                let Some(trials) = of[plot] else { continue };
                check_count("number out of which was counted", plot, trials)?;
                if trials == 0.0 {
                    return Err(InferenceError::NoTrials { plot });
                }
                if value > trials {
                    return Err(InferenceError::MoreThanAll { plot, successes: value, trials });
                }
            }
        }
    }
    Ok(())
}

fn check_searched(plot: usize, searched: Option<f64>) -> Result<(), InferenceError> {
    match searched {
        Some(size) if !(size > 0.0 && size.is_finite()) => Err(InferenceError::NothingSearched { plot, size }),
        _ => Ok(()),
    }
}

/// One fixed mean for every cell, one effect for every unit.
pub(super) fn model(
    experiment: &Experiment,
    kind: &DiscreteKind,
    plots: &Plots,
    partitions: &[Partition],
) -> GeneralisedModel {
    let cells = &plots.cells;
    let mut cell_of = vec![0; cells.replication.len()];
    cells.present.iter().enumerate().for_each(|(cell, present)| {
        if let Some(index) = present {
            cell_of[*index] = cell;
        }
    });
    let used = |values: &[Option<f64>]| -> Vec<f64> { plots.index.iter().filter_map(|&plot| values[plot]).collect() };
    let values = used(&experiment.response);
    let column =
        |covariate: &crate::Covariate| FixedColumn { name: covariate.name.clone(), values: used(&covariate.values) };
    let (observed, offset) = match kind {
        DiscreteKind::Counts { searched, spread } => {
            let offset = searched.as_ref().map(|searched| used(searched).iter().map(|size| size.ln()).collect());
            (Observed::Counts { counts: values, spread: *spread }, offset)
        }
        DiscreteKind::Shares { of, link } => {
            (Observed::Proportions { successes: values, trials: used(of), link: *link }, None)
        }
    };
    GeneralisedModel {
        observed,
        treatments: (0..cells.count()).map(|cell| cells.label(cell)).collect(),
        treatment: plots.cell.iter().map(|&index| cell_of[index]).collect(),
        columns: experiment.covariates.iter().map(column).collect(),
        offset,
        groupings: partitions.iter().map(grouping).collect(),
    }
}

fn grouping(partition: &Partition) -> Grouping {
    let division = &partition.division;
    Grouping { name: partition.name.clone(), class: division.class.clone(), classes: division.classes }
}
