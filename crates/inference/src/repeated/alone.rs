//! What needs no model of how occasions hang together: each occasion by itself, and the mean over all of them.

use super::Occasions;
use crate::{Analysis, Experiment, InferenceError, Options};
use serde::{Deserialize, Serialize};

/// One occasion analysed by itself, as randomised.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct OccasionAlone {
    /// The occasion.
    pub label: String,
    /// Its analysis; none when it cannot be analysed by itself.
    pub analysis: Option<Analysis>,
    /// Why it cannot.
    pub why_not: Option<String>,
}

/// The mean of each plot over all occasions, analysed as randomised.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct SeasonMean {
    /// Plots without a value at some occasion, left out.
    pub plots_left_out: Vec<usize>,
    /// Its analysis; none when it cannot be analysed.
    pub analysis: Option<Analysis>,
    /// Why it cannot.
    pub why_not: Option<String>,
}

type Outcome = (Option<Analysis>, Option<String>);

fn analysed(experiment: &Experiment, response: Vec<Option<f64>>, options: &Options) -> Outcome {
    let found: Result<Analysis, InferenceError> =
        crate::analyse(&Experiment { response, ..experiment.clone() }, options);
    match found {
        Ok(analysis) => (Some(analysis), None),
        Err(error) => (None, Some(error.to_string())),
    }
}

pub(super) fn each_alone(experiment: &Experiment, occasions: &Occasions, options: &Options) -> Vec<OccasionAlone> {
    let alone = occasions.visits.iter().map(|visit| {
        let (analysis, why_not) = analysed(experiment, visit.response.clone(), options);
        OccasionAlone { label: visit.label.clone(), analysis, why_not }
    });
    alone.collect()
}

pub(super) fn season_mean(experiment: &Experiment, occasions: &Occasions, options: &Options) -> SeasonMean {
    let count = occasions.visits.len() as f64;
    let mean = |plot: usize| {
        let sum: Option<f64> = occasions.visits.iter().map(|visit| visit.response[plot]).sum();
        sum.map(|it| it / count)
    };
    let response: Vec<Option<f64>> = (0..experiment.treatment.len()).map(mean).collect();
    let plots_left_out = (0..response.len()).filter(|&plot| response[plot].is_none()).collect();
    let (analysis, why_not) = analysed(experiment, response, options);
    SeasonMean { plots_left_out, analysis, why_not }
}
