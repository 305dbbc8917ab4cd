//! Covariates as columns of the model.
//!
//! Each is taken as its deviation from the mean of its cell. The columns are then orthogonal to the cell means, so that a mean
//! keeps its meaning when a covariate is added, and its adjustment is a separate, visible step.

use crate::matrix::{add_scaled, dot};
use crate::{Covariate, Experiment, InferenceError};

/// Share of a column's sum of squares below which what is left of it is rounding.
const ROUNDING: f64 = 1e-18;

/// One covariate over the used plots.
#[derive(Debug, Clone)]
pub(crate) struct CovariateColumn {
    /// Its name.
    pub name: String,
    /// Its unit, for people.
    pub unit: Option<String>,
    /// Its mean over the used plots.
    pub mean: f64,
    /// Its deviations from that mean.
    pub value: Vec<f64>,
    /// For each cell present the mean of those deviations.
    pub of_cell: Vec<f64>,
    /// Its deviations from the means of the cells.
    pub within: Vec<f64>,
}

/// Checks lengths, names and values.
///
/// # Errors
/// [`InferenceError::Length`], [`InferenceError::CovariateTwice`], [`InferenceError::CovariateNotFinite`].
pub(crate) fn check_covariates(experiment: &Experiment, largest: f64) -> Result<(), InferenceError> {
    check_columns(&experiment.covariates, experiment.response.len(), largest)
}

/// The same of any columns over `expected` plots.
pub(crate) fn check_columns(columns: &[Covariate], expected: usize, largest: f64) -> Result<(), InferenceError> {
    for (position, covariate) in columns.iter().enumerate() {
        let (name, found) = (&covariate.name, covariate.values.len());
        if found != expected {
            return Err(InferenceError::Length { list: format!("the column of '{name}'"), found, expected });
        }
        if columns[..position].iter().any(|it| it.name == *name) {
            return Err(InferenceError::CovariateTwice { covariate: name.clone() });
        }
        let wrong = |value: &f64| !value.is_finite() || value.abs() > largest;
        if let Some((plot, value)) =
            covariate.values.iter().enumerate().find(|(_, value)| value.as_ref().is_some_and(wrong))
        {
            let (covariate, value) = (name.clone(), value.unwrap_or(f64::NAN));
            return Err(InferenceError::CovariateNotFinite { covariate, plot, value });
        }
    }
    Ok(())
}

/// The columns over the used plots.
///
/// # Errors
/// [`InferenceError::CovariateConstant`], [`InferenceError::CovariateFollowsTreatments`] and
/// [`InferenceError::CovariateFollowsOthers`] when a slope could not be told from something else.
pub(crate) fn columns(
    covariates: &[Covariate],
    used: &[usize],
    cell: &[usize],
    replication: &[f64],
) -> Result<Vec<CovariateColumn>, InferenceError> {
    let mut columns: Vec<CovariateColumn> = Vec::new();
    let mut directions: Vec<Vec<f64>> = Vec::new();
    for covariate in covariates {
        let given: Vec<f64> = used.iter().filter_map(|&plot| covariate.values[plot]).collect();
        let (mean, value) = crate::plots::centred(&given);
        let total = dot(&value, &value);
        let name = covariate.name.clone();
        if total == 0.0 || value.iter().all(|it| it.abs() <= 1e-14 * mean.abs()) {
            return Err(InferenceError::CovariateConstant { covariate: name, value: mean });
        }
        let of_cell = cell_means(&value, cell, replication);
        let within: Vec<f64> = value.iter().zip(cell).map(|(value, &cell)| value - of_cell[cell]).collect();
        if dot(&within, &within) <= ROUNDING * total {
            return Err(InferenceError::CovariateFollowsTreatments { covariate: name });
        }
        let mut rest = within.clone();
        for _twice_for_rounding in 0..2 {
            for known in &directions {
                let share = dot(known, &rest);
                add_scaled(&mut rest, -share, known);
            }
        }
        let left = dot(&rest, &rest);
        if left <= ROUNDING * dot(&within, &within) {
            let others = columns.iter().map(|it| it.name.clone()).collect();
            return Err(InferenceError::CovariateFollowsOthers { covariate: name, others });
        }
        rest.iter_mut().for_each(|it| *it /= left.sqrt());
        directions.push(rest);
        columns.push(CovariateColumn { name, unit: covariate.unit.clone(), mean, value, of_cell, within });
    }
    Ok(columns)
}

/// Mean of the values in each cell.
pub(crate) fn cell_means(values: &[f64], cell: &[usize], replication: &[f64]) -> Vec<f64> {
    let mut means = vec![0.0; replication.len()];
    cell.iter().zip(values).for_each(|(&cell, value)| means[cell] += value);
    means.iter_mut().zip(replication).for_each(|(sum, plots)| *sum /= plots);
    means
}
