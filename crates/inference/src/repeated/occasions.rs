//! The occasions, and the trial as one table of plots by occasions.

use crate::{Experiment, InferenceError, Scope};
use guardrow_design::BlockStructure;

/// Name of the occasions as a unit that crosses all others.
pub(super) const OCCASION: &str = "occasion";

/// One measure at several occasions.
#[derive(Debug, Clone, PartialEq)]
pub struct Occasions {
    /// In the order of time; at least two.
    pub visits: Vec<Visit>,
    /// Whether blocks and other larger units have an effect of their own on every occasion besides their lasting one. True unless there is a
    /// reason: without it, occasions are compared as if blocks all changed alike from one to the next.
    pub units_by_occasion: bool,
}

/// One occasion.
#[derive(Debug, Clone, PartialEq)]
pub struct Visit {
    /// What it is called, such as a date or a growth stage.
    pub label: String,
    /// Its day, from any start; given for all occasions or for none. Without days, occasions count as equally far apart.
    pub day: Option<f64>,
    /// For each plot of the experiment the value; `None` where there is none.
    pub response: Vec<Option<f64>>,
}

impl Occasions {
    /// Occasions at which larger units have effects of their own.
    pub fn new(visits: Vec<Visit>) -> Self {
        Self { visits, units_by_occasion: true }
    }

    /// The days; the numbers of the occasions where no days were given.
    pub(super) fn times(&self) -> Vec<f64> {
        let days: Option<Vec<f64>> = self.visits.iter().map(|visit| visit.day).collect();
        days.unwrap_or_else(|| (1..=self.visits.len()).map(|it| it as f64).collect())
    }

    /// Whether neighbours are all equally far apart.
    pub(super) fn is_even(&self) -> bool {
        let times = self.times();
        let step = times[1] - times[0];
        times.windows(2).all(|pair| (pair[1] - pair[0] - step).abs() <= 1e-9 * step)
    }

    /// Whether days were given.
    pub(super) fn has_days(&self) -> bool {
        self.visits.iter().all(|visit| visit.day.is_some())
    }

    /// # Errors
    /// [`InferenceError::Setting`] for fewer than two occasions and for days that are not in order; [`InferenceError::Length`].
    pub(super) fn check(&self, plots: usize) -> Result<(), InferenceError> {
        let setting = |what: String, value: f64, expected: &str| {
            Err(InferenceError::Setting { what, value, expected: expected.to_owned() })
        };
        if self.visits.len() < 2 {
            return setting("the number of occasions".into(), self.visits.len() as f64, "at least 2");
        }
        for visit in &self.visits {
            let (list, found) = (format!("the values of '{}'", visit.label), visit.response.len());
            if found != plots {
                return Err(InferenceError::Length { list, found, expected: plots });
            }
        }
        for pair in self.visits.windows(2) {
            let what = format!("the day of '{}'", pair[1].label);
            match (pair[0].day, pair[1].day) {
                (Some(before), Some(after)) if !(after > before && after.is_finite() && before.is_finite()) => {
                    return setting(what, after, "a finite number later than the occasion before");
                }
                (None, Some(day)) | (Some(day), None) => {
                    return setting(what, day, "given for all occasions or for none");
                }
                _ => {}
            }
        }
        Ok(())
    }

    /// The trial with one row for each plot on each occasion, the plots of the first occasion first.
    ///
    /// # Errors
    /// As [`Self::check`]; [`InferenceError::UnknownUnit`] when the arrangement has a unit called `occasion`;
    /// [`InferenceError::UnknownEnvironment`] when the trial is to speak of places like its own.
    pub(super) fn crossed_with(&self, experiment: &Experiment) -> Result<Experiment, InferenceError> {
        let plots = experiment.treatment.len();
        self.check(plots)?;
        let names = experiment.blocks.units();
        if names.iter().any(|name| name == OCCASION) {
            return Err(InferenceError::UnknownUnit { unit: OCCASION.into() });
        }
        if let (Scope::EnvironmentsLikeThese, Some(place)) = (experiment.scope, experiment.environments.first()) {
            return Err(InferenceError::OccasionsInSampledPlaces { unit: place.clone() });
        }
        let times = self.visits.len();
        let repeated = |column: &Vec<usize>| column.iter().copied().cycle().take(plots * times).collect::<Vec<usize>>();
        let mut units: Vec<(String, Vec<usize>)> =
            experiment.units.iter().map(|(name, column)| (name.clone(), repeated(column))).collect();
        if let Some(plot) = names.last().filter(|name| units.iter().all(|(known, _)| known != *name)) {
            units.push((plot.clone(), (0..plots * times).map(|row| row % plots).collect()));
        }
        units.push((OCCASION.into(), (0..plots * times).map(|row| row / plots).collect()));
        let mut unit_labels = experiment.unit_labels.clone();
        unit_labels.push((OCCASION.into(), self.visits.iter().map(|visit| visit.label.clone()).collect()));
        let mut covariates = experiment.covariates.clone();
        covariates.iter_mut().for_each(|it| it.values = it.values.repeat(times));
        let mut environments = experiment.environments.clone();
        environments.push(OCCASION.into());
        Ok(Experiment {
            blocks: experiment.blocks.clone().cross(BlockStructure::unit(OCCASION)),
            units,
            unit_labels,
            treatments: experiment.treatments.clone(),
            treatment: repeated(&experiment.treatment),
            response: self.visits.iter().flat_map(|visit| visit.response.iter().copied()).collect(),
            covariates,
            environments,
            scope: Scope::TheseEnvironments,
            random_factors: experiment.random_factors.clone(),
        })
    }
}
