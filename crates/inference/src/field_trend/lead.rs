//! Which of the two analyses a reader should rest on.

use crate::error_models::ErrorModels;
use serde::{Deserialize, Serialize};

/// With fewer plots than this, intervals by the chosen model miss too often; it is the smallest field simulated on which they held.
///
/// Source: the simulation in `docs/numbers/coverage.md` and `tests/simulation/`.
const ENOUGH_PLOTS: usize = 40;
/// With fewer degrees of freedom left by the means, the choice among models uses up what error there is.
const ENOUGH_DF: f64 = 12.0;

/// Which analysis leads for means and differences. Tests of whole terms always rest on the randomisation: those of a chosen model reject
/// in about 10 of 100 trials at 5 % where the ground wanders (same simulation).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FieldLead {
    /// The one that follows from the randomisation.
    AsRandomised,
    /// The chosen model of the ground.
    Model,
}

pub(super) fn lead(models: &ErrorModels, plots: usize) -> (FieldLead, String) {
    let df = models.models[models.chosen].fitted.as_ref().map_or(0.0, |it| it.residual_df);
    let randomised = |why: String| (FieldLead::AsRandomised, why);
    if models.chosen == 0 {
        return randomised(
            "No model of the ground is clearly better than the analysis as randomised, which leads.".into(),
        );
    }
    if plots < ENOUGH_PLOTS || df < ENOUGH_DF {
        return randomised(format!(
            "With {plots} plots ({df} degrees of freedom beside the means) models of the ground cannot be told apart reliably: the analysis as randomised leads, and the chosen model is shown for comparison."
        ));
    }
    let why = format!(
        "'{}' describes the ground better than blocks alone; take means and differences from it, beside those as randomised. Rest tests on the analysis as randomised: those of a chosen model reject too often.",
        models.models[models.chosen].name
    );
    (FieldLead::Model, why)
}
