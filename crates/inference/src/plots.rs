//! The plots that have a value, checked, with their values centred.

use crate::{Experiment, InferenceError};
use guardrow_design::Treatment;

/// Beyond this the square of a mean square could overflow.
const LARGEST: f64 = 1e60;
/// Below this the square of a mean square could vanish.
const SMALLEST: f64 = 1e-60;

/// Plots with a value.
#[derive(Debug, Clone)]
pub(crate) struct Plots {
    /// Index of each used plot in the experiment.
    pub index: Vec<usize>,
    /// Indices of the plots without a value.
    pub missing: Vec<usize>,
    /// Index of each used plot's treatment among those present.
    pub treatment: Vec<usize>,
    /// Value of each used plot minus `grand_mean`.
    pub value: Vec<f64>,
    /// Mean of the used plots.
    pub grand_mean: f64,
    /// All treatments of the trial.
    pub treatments: Vec<Treatment>,
    /// For every treatment of the trial its index among those with a value.
    pub present: Vec<Option<usize>>,
    /// Number of plots of each present treatment.
    pub replication: Vec<f64>,
}

impl Plots {
    /// Checks the experiment and takes the plots that have a value.
    pub fn of(experiment: &Experiment) -> Result<Self, InferenceError> {
        let treatments = treatments(experiment)?;
        check_lengths(experiment)?;
        check_values(experiment, treatments.len())?;
        let (index, missing) = used_and_missing(experiment);
        if index.is_empty() {
            return Err(InferenceError::NoValues);
        }
        let (present, replication) = presence(experiment, &index, treatments.len());
        let given: Vec<f64> = index.iter().filter_map(|&plot| experiment.response[plot]).collect();
        let (grand_mean, value) = centred(&given);
        if value.iter().all(|&deviation| deviation == 0.0) && given.iter().all(|&value| value == given[0]) {
            return Err(InferenceError::ConstantResponse { value: given[0] });
        }
        let largest = value.iter().fold(0.0, |largest: f64, deviation| largest.max(deviation.abs()));
        if largest < SMALLEST {
            return Err(InferenceError::TooSmall { largest });
        }
        if replication.len() < 2 {
            return Err(InferenceError::OneTreatment);
        }
        if index.len() <= replication.len() {
            return Err(InferenceError::NoErrorDegreesOfFreedom { plots: index.len(), parameters: replication.len() });
        }
        let treatment = index.iter().filter_map(|&plot| present[experiment.treatment[plot]]).collect();
        Ok(Self { index, missing, treatment, value, grand_mean, treatments, present, replication })
    }

    /// Number of plots with a value.
    pub fn count(&self) -> usize {
        self.index.len()
    }

    /// Mean of each present treatment minus the grand mean.
    pub fn treatment_means(&self) -> Vec<f64> {
        let mut means = vec![0.0; self.replication.len()];
        for (&treatment, &value) in self.treatment.iter().zip(&self.value) {
            means[treatment] += value;
        }
        means.iter().zip(&self.replication).map(|(sum, plots)| sum / plots).collect()
    }

    /// Value of each used plot minus its treatment's mean.
    pub fn within_treatments(&self) -> Vec<f64> {
        let means = self.treatment_means();
        self.treatment.iter().zip(&self.value).map(|(&treatment, &value)| value - means[treatment]).collect()
    }
}

fn treatments(experiment: &Experiment) -> Result<Vec<Treatment>, InferenceError> {
    let factors = &experiment.treatments.factors;
    if factors.is_empty() {
        return Err(InferenceError::NoFactor);
    }
    match factors.iter().find(|factor| factor.levels.len() < 2) {
        Some(factor) => Err(InferenceError::TooFewLevels { factor: factor.name.clone() }),
        None => Ok(experiment.treatments.treatments()),
    }
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
        match value {
            Some(value) if !value.is_finite() => return Err(InferenceError::NotFinite { plot, value }),
            Some(value) if value.abs() > LARGEST => return Err(InferenceError::TooLarge { plot, value }),
            _ => {}
        }
    }
    Ok(())
}

fn used_and_missing(experiment: &Experiment) -> (Vec<usize>, Vec<usize>) {
    (0..experiment.response.len()).partition(|&plot| experiment.response[plot].is_some())
}

fn presence(experiment: &Experiment, used: &[usize], treatments: usize) -> (Vec<Option<usize>>, Vec<f64>) {
    let mut plots = vec![0.0; treatments];
    for &plot in used {
        plots[experiment.treatment[plot]] += 1.0;
    }
    let mut replication = Vec::new();
    let present = plots.iter().map(|&count| {
        (count > 0.0).then(|| {
            replication.push(count);
            replication.len() - 1
        })
    });
    (present.collect(), replication)
}

/// Mean and deviations. The first value is taken off before anything is summed, so that values that share many leading
/// digits keep the digits in which they differ.
fn centred(given: &[f64]) -> (f64, Vec<f64>) {
    let origin = given[0];
    let from_origin: Vec<f64> = given.iter().map(|value| value - origin).collect();
    let mean = from_origin.iter().sum::<f64>() / given.len() as f64;
    let rounding = from_origin.iter().map(|value| value - mean).sum::<f64>() / given.len() as f64;
    let mean = mean + rounding;
    (origin + mean, from_origin.iter().map(|value| value - mean).collect())
}
