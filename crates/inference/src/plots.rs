//! The plots that have a value, checked, with their values centred.

use crate::covariates::{CovariateColumn, cell_means, check_covariates, columns};
use crate::model::{Cells, EnvironmentStratum, check_factors, check_units, environment_strata};
use crate::{Experiment, InferenceError, Notice};

/// Beyond this the square of a mean square could overflow.
pub(crate) const LARGEST: f64 = 1e60;
/// Below this the square of a mean square could vanish.
const SMALLEST: f64 = 1e-60;

/// Plots with a value.
#[derive(Debug, Clone)]
pub(crate) struct Plots {
    /// Index of each used plot in the experiment.
    pub index: Vec<usize>,
    /// Indices of the plots without a value, or without that of a covariate.
    pub missing: Vec<usize>,
    /// Treatment of each used plot.
    pub treatment: Vec<usize>,
    /// The fixed means.
    pub cells: Cells,
    /// Index of each used plot's cell among those present.
    pub cell: Vec<usize>,
    /// Value of each used plot minus `grand_mean`.
    pub value: Vec<f64>,
    /// Mean of the used plots.
    pub grand_mean: f64,
    /// What the means are adjusted for.
    pub covariates: Vec<CovariateColumn>,
    /// Kinds of place and season that vary, fixed or not.
    pub environments: Vec<EnvironmentStratum>,
}

impl Plots {
    /// Checks the experiment and takes the plots that have a value.
    pub fn of(experiment: &Experiment) -> Result<(Self, Vec<Notice>), InferenceError> {
        check_factors(experiment)?;
        check_lengths(experiment)?;
        check_values(experiment, experiment.treatments.treatment_count())?;
        check_covariates(experiment, LARGEST)?;
        let (index, missing) = used_and_missing(experiment);
        if index.is_empty() {
            return Err(InferenceError::NoValues);
        }
        let given: Vec<f64> = index.iter().filter_map(|&plot| experiment.response[plot]).collect();
        let (grand_mean, value) = centred(&given);
        check_spread(&given, &value)?;
        let treatment: Vec<usize> = index.iter().map(|&plot| experiment.treatment[plot]).collect();
        if treatment.iter().all(|&it| it == treatment[0]) {
            return Err(InferenceError::OneTreatment);
        }
        check_units(experiment)?;
        let (environments, mut notices) = environment_strata(experiment, &index)?;
        let (cells, cell) = Cells::of(experiment, &index, &environments);
        let parameters = cells.replication.len() + experiment.covariates.len();
        if index.len() <= parameters {
            return Err(InferenceError::NoErrorDegreesOfFreedom { plots: index.len(), parameters });
        }
        let covariates = columns(&experiment.covariates, &index, &cell, &cells.replication)?;
        notices.extend(missing_notices(experiment, &treatment));
        Ok((Self { index, missing, treatment, cells, cell, value, grand_mean, covariates, environments }, notices))
    }

    /// Number of plots with a value.
    pub fn count(&self) -> usize {
        self.index.len()
    }

    /// Number of fixed parameters: the cells present and the slopes.
    pub fn parameters(&self) -> usize {
        self.cells.replication.len() + self.covariates.len()
    }

    /// Mean of each cell present minus the grand mean.
    pub fn cell_means(&self) -> Vec<f64> {
        cell_means(&self.value, &self.cell, &self.cells.replication)
    }

    /// Value of each used plot minus its cell's mean.
    pub fn within_cells(&self) -> Vec<f64> {
        let means = self.cell_means();
        self.cell.iter().zip(&self.value).map(|(&cell, &value)| value - means[cell]).collect()
    }
}

pub(crate) fn check_spread(given: &[f64], value: &[f64]) -> Result<(), InferenceError> {
    if given.iter().all(|&value| value == given[0]) {
        return Err(InferenceError::ConstantResponse { value: given[0] });
    }
    let largest = value.iter().fold(0.0, |largest: f64, deviation| largest.max(deviation.abs()));
    if largest < SMALLEST { Err(InferenceError::TooSmall { largest }) } else { Ok(()) }
}

fn check_lengths(experiment: &Experiment) -> Result<(), InferenceError> {
    let expected = experiment.response.len();
    let units = experiment.units.iter().map(|(unit, labels)| (format!("the column of '{unit}'"), labels.len()));
    let treatment = std::iter::once(("the treatment column".to_owned(), experiment.treatment.len()));
    match treatment.chain(units).find(|&(_, found)| found != expected) {
        Some((list, found)) => Err(InferenceError::Length { list, found, expected }),
        None => Ok(()),
    }
}

fn check_values(experiment: &Experiment, treatments: usize) -> Result<(), InferenceError> {
    for (plot, (&treatment, &value)) in experiment.treatment.iter().zip(&experiment.response).enumerate() {
        if treatment >= treatments {
            return Err(InferenceError::UnknownTreatment { plot, treatment, treatments });
        }
        value.map_or(Ok(()), |value| check_value(plot, value))?;
    }
    Ok(())
}

/// Checks one value.
pub(crate) fn check_value(plot: usize, value: f64) -> Result<(), InferenceError> {
    if !value.is_finite() {
        return Err(InferenceError::NotFinite { plot, value });
    }
    if value.abs() > LARGEST { Err(InferenceError::TooLarge { plot, value }) } else { Ok(()) }
}

fn used_and_missing(experiment: &Experiment) -> (Vec<usize>, Vec<usize>) {
    let is_used = |plot: &usize| {
        experiment.response[*plot].is_some() && experiment.covariates.iter().all(|it| it.values[*plot].is_some())
    };
    (0..experiment.response.len()).partition(is_used)
}

fn missing_notices(experiment: &Experiment, used: &[usize]) -> Vec<Notice> {
    let without = experiment.response.iter().filter(|value| value.is_none()).count();
    let missing = (without > 0).then_some(Notice::MissingPlots { plots: without });
    let covariates = experiment.covariates.iter().filter_map(|covariate| {
        let pairs = experiment.response.iter().zip(&covariate.values);
        let plots = pairs.filter(|(response, value)| response.is_some() && value.is_none()).count();
        (plots > 0).then(|| Notice::CovariateMissing { covariate: covariate.name.clone(), plots })
    });
    let treatments = experiment.treatments.treatments();
    let absent = treatments.into_iter().enumerate().filter(|(index, _)| !used.contains(index));
    let absent = absent.map(|(_, it)| Notice::TreatmentWithoutValues { treatment: it.label });
    missing.into_iter().chain(covariates).chain(absent).collect()
}

/// Mean and deviations. The first value is taken off before anything is summed, so that values that share many leading
/// digits keep the digits in which they differ.
pub(crate) fn centred(given: &[f64]) -> (f64, Vec<f64>) {
    let from_origin = crate::decimal::from_first(given);
    let mean = from_origin.iter().sum::<f64>() / given.len() as f64;
    let rounding = from_origin.iter().map(|value| value - mean).sum::<f64>() / given.len() as f64;
    let mean = mean + rounding;
    (given[0] + mean, from_origin.iter().map(|value| value - mean).collect())
}
