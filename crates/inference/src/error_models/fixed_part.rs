//! What all models of one set share: the fixed part, its terms, and the units of the ground as they were randomised.

use crate::correlated_errors::{FixedPart, Part};
use crate::model::Partition;
use crate::plots::Plots;
use crate::terms::Term;
use crate::{Experiment, InferenceError, Notice};

/// The plots with a value, the fixed terms and the random ones.
pub(crate) struct Fixed {
    pub plots: Plots,
    /// All random terms, coarser ones first, the plots last.
    pub partitions: Vec<Partition>,
    pub terms: Vec<Term>,
    pub notices: Vec<Notice>,
}

impl Fixed {
    /// Checks the experiment.
    ///
    /// # Errors
    /// As `analyse`; [`InferenceError::SampleBesideControls`] when a sampled factor does not concern all plots.
    pub fn of(experiment: &Experiment) -> Result<Self, InferenceError> {
        let (plots, mut notices) = Plots::of(experiment)?;
        let (partitions, of_terms) = crate::model::random_terms(experiment, &plots, &plots.environments)?;
        notices.extend(of_terms);
        if let Some(sample) = partitions.iter().find(|it| it.has_outside) {
            return Err(InferenceError::SampleBesideControls { term: sample.name.clone() });
        }
        let terms = crate::terms::terms(&plots.cells);
        Ok(Self { plots, partitions, terms, notices })
    }

    /// The same for the models of correlated errors.
    pub fn part(&self) -> Result<FixedPart, InferenceError> {
        let plots = &self.plots;
        let part = FixedPart {
            value: plots.value.clone(),
            mean: plots.grand_mean,
            cell: plots.cell.clone(),
            replication: plots.cells.replication.clone(),
            columns: plots.covariates.clone(),
        };
        part.with_variation()
    }
}

/// A random effect for each unit of these terms.
pub(crate) fn strata_parts(partitions: &[Partition]) -> Vec<Part> {
    partitions.iter().map(|it| Part::units(it.name.clone(), it.division.class.clone())).collect()
}
