//! Whether treatments differ alike at every cut of the scale.
//!
//! Proportional odds says that one difference holds at every threshold. Fitted cut by cut, as proportions above it, the same
//! differences should come out but for their errors; where they do not, a treatment changes the spread of the scores and not
//! only their place.

use super::model::OrdinalModel;
use crate::InferenceError;
use crate::generalised::{Columns, GeneralisedFit, GeneralisedModel, Observed, fit, on};

/// The share above one cut of the scale, fitted by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// The score below the cut.
    pub below: String,
    /// The fit of the share above it, or why there is none.
    pub fit: Result<GeneralisedFit, InferenceError>,
}

/// Fits the share above every cut with the same treatments, columns and groupings.
///
/// # Errors
/// As [`super::fit`], for what cannot be scores.
/// # Source
/// The comparison of cut-by-cut fits is that of Brant (1990), Biometrics 46:1171-1178, without his joint test.
pub fn by_cuts(model: &OrdinalModel) -> Result<Vec<Cut>, InferenceError> {
    super::fit::check(model)?;
    let rows: Vec<usize> = (0..model.score.len()).filter(|&i| model.count[i] > 0.0).collect();
    let of_cut = |score: usize| {
        let above = |&i: &usize| if model.score[i] > score { model.count[i] } else { 0.0 };
        let binary = GeneralisedModel {
            observed: Observed::Proportions {
                successes: rows.iter().map(above).collect(),
                trials: rows.iter().map(|&i| model.count[i]).collect(),
                link: model.link.of_proportions(),
            },
            treatments: model.treatments.clone(),
            treatment: rows.iter().map(|&i| model.treatment[i]).collect(),
            columns: Columns::of(&model.columns, &rows).given,
            offset: None,
            groupings: model.groupings.iter().map(|grouping| on(grouping, &rows)).collect(),
        };
        Cut { below: model.scores[score].clone(), fit: fit(&binary) }
    };
    Ok((0..model.scores.len().saturating_sub(1)).map(of_cut).collect())
}
