//! Treatments in which everything or nothing was counted.
//!
//! On the link's scale their mean is infinitely far out: no likelihood is largest at a number. Their observations then say
//! nothing about the other treatments or the units, so the model is fitted without them, and what can be said of them is said
//! without it.

use super::means::TreatmentState;
use super::model::{GeneralisedModel, Observed};
use crate::{InferenceError, Notice};

/// The treatments as observed.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Observations {
    /// The state of every treatment.
    pub states: Vec<TreatmentState>,
    /// For every treatment its index among those that are estimated.
    pub present: Vec<Option<usize>>,
    /// Observations of estimated treatments.
    pub used: Vec<usize>,
}

/// Sorts the treatments.
///
/// # Errors
/// [`InferenceError::NothingCounted`], [`InferenceError::EverythingCounted`] when no treatment is left to estimate.
pub(crate) fn sort(model: &GeneralisedModel) -> Result<Observations, InferenceError> {
    let states: Vec<TreatmentState> = (0..model.treatments.len()).map(|treatment| state(model, treatment)).collect();
    let mut next = 0..;
    let present: Vec<Option<usize>> =
        states.iter().map(|state| (*state == TreatmentState::Estimated).then(|| next.next()).flatten()).collect();
    let used: Vec<usize> = (0..model.treatment.len()).filter(|&i| present[model.treatment[i]].is_some()).collect();
    if used.is_empty() {
        let is_zero = |state: &TreatmentState| *state == TreatmentState::NothingCounted;
        let observations = model.treatment.len();
        return Err(match states.iter().any(is_zero) {
            true => InferenceError::NothingCounted { observations },
            false => InferenceError::EverythingCounted { observations },
        });
    }
    Ok(Observations { states, present, used })
}

fn state(model: &GeneralisedModel, treatment: usize) -> TreatmentState {
    let own = (0..model.treatment.len()).filter(|&i| model.treatment[i] == treatment);
    let (mut any, mut none, mut all) = (false, true, true);
    for i in own {
        any = true;
        match &model.observed {
            Observed::Proportions { successes, trials, .. } => {
                none &= successes[i] == 0.0;
                all &= successes[i] == trials[i];
            }
            Observed::Counts { counts, .. } => {
                none &= counts[i] == 0.0;
                all = false;
            }
        }
    }
    match (any, none, all) {
        (false, ..) => TreatmentState::NoValues,
        (true, true, _) => TreatmentState::NothingCounted,
        (true, _, true) => TreatmentState::EverythingCounted,
        _ => TreatmentState::Estimated,
    }
}

impl Observations {
    /// What a reader must know about treatments that are not estimated.
    pub fn notices(&self, labels: &[String]) -> Vec<Notice> {
        let of = |(state, label): (&TreatmentState, &String)| {
            let treatment = label.clone();
            match state {
                TreatmentState::Estimated => None,
                TreatmentState::NoValues => Some(Notice::TreatmentWithoutValues { treatment }),
                TreatmentState::NothingCounted => Some(Notice::NothingCounted { treatment }),
                TreatmentState::EverythingCounted => Some(Notice::EverythingCounted { treatment }),
            }
        };
        self.states.iter().zip(labels).filter_map(of).collect()
    }
}
