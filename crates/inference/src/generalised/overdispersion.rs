//! Whether observations vary more than the model says, and what to do then.

use super::residuals::FittedObservation;
use crate::distribution::chi_square_upper;
use serde::{Deserialize, Serialize};

/// Variation of the observations around what was fitted, against what the model expects.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Overdispersion {
    /// Sum of squared Pearson residuals.
    pub pearson: f64,
    /// Deviance: twice what the log-likelihood of the observations lacks of that of a perfect fit, units' effects given.
    pub deviance: f64,
    /// Observations less parameters estimated. Units' effects are not counted as parameters, so that with groupings in the
    /// model the ratio tends to lie below one.
    pub df: f64,
    /// `pearson / df`.
    pub ratio: Option<f64>,
    /// Probability of a `pearson` this large if the model holds; roughly, and not to be trusted where most expected counts are
    /// below one.
    pub p: Option<f64>,
    /// What follows.
    pub advice: DispersionAdvice,
}

/// What to do about the variation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DispersionAdvice {
    /// The observations vary as the model says.
    Enough,
    /// They vary more: give plots an effect of their own (or, for counts, a negative binomial spread).
    AddPlotEffect,
    /// A plot effect or negative binomial spread is in the model and takes it up.
    TakenUp,
    /// They vary more although plots have an effect or spread of their own: look for plots out of line.
    LookAtPlots,
    /// Nothing is left to tell.
    CannotTell,
}

impl DispersionAdvice {
    /// Whether somebody should look at the values or the model.
    pub fn calls_for_a_look(self) -> bool {
        matches!(self, Self::AddPlotEffect | Self::LookAtPlots)
    }

    /// The advice as one sentence.
    pub fn sentence(self) -> &'static str {
        match self {
            Self::Enough => "Observations treated alike vary no more than counting alone makes them vary.",
            Self::AddPlotEffect => {
                "Observations treated alike vary more than counting alone makes them vary: standard errors are too small \
                 unless plots are given an effect of their own (or counts a negative binomial spread)."
            }
            Self::TakenUp => "What observations vary beyond counting is taken up by the model.",
            Self::LookAtPlots => {
                "Observations vary more than the model says although it lets plots vary: look for plots out of line."
            }
            Self::CannotTell => {
                "There are too few observations to tell whether they vary more than counting makes them vary."
            }
        }
    }
}

/// - `estimated`: parameters estimated, variances at zero not counted
/// - `plot_effect`, `spread`: whether the model lets single observations vary
pub(crate) fn of(
    observations: &[&FittedObservation],
    estimated: usize,
    plot_effect: bool,
    spread: bool,
) -> Overdispersion {
    /// The usual level; common practice, no source.
    const LEVEL: f64 = 0.05;
    let pearson: f64 = observations.iter().map(|it| it.pearson * it.pearson).sum();
    let deviance: f64 = observations.iter().map(|it| it.deviance * it.deviance).sum();
    let df = observations.len().saturating_sub(estimated) as f64;
    let ratio = (df > 0.0).then(|| pearson / df);
    let p = (df > 0.0).then(|| chi_square_upper(pearson, df));
    let advice = match (p, plot_effect || spread) {
        (None, _) => DispersionAdvice::CannotTell,
        (Some(p), true) if p < LEVEL => DispersionAdvice::LookAtPlots,
        (Some(_), true) => DispersionAdvice::TakenUp,
        (Some(p), false) if p < LEVEL => DispersionAdvice::AddPlotEffect,
        (Some(_), false) => DispersionAdvice::Enough,
    };
    Overdispersion { pearson, deviance, df, ratio, p, advice }
}
