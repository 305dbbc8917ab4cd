//! What a trial brings.

use super::JoinError;
use serde::{Deserialize, Serialize};

/// One trial's estimate of the comparison that is joined.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct TrialSummary {
    /// The trial's name.
    pub name: String,
    /// The estimate, in a unit that all trials share.
    pub estimate: f64,
    /// Its standard error, in the same unit.
    pub se: f64,
    /// Degrees of freedom of the standard error; none where they are not told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub df: Option<f64>,
}

/// The largest number whose square, summed over trials, is still a number with room to spare.
const LARGEST: f64 = 1e100;
/// The smallest standard error whose square is still a number with all its digits.
const SMALLEST: f64 = 1e-100;
/// A standard error below this part of the differences between trials is rounding, not an error.
const ROUNDING: f64 = 1e-12;

/// # Errors
/// [`JoinError`] for fewer than two trials, a trial given twice, and numbers that are no estimate or no standard error.
pub(crate) fn check(trials: &[TrialSummary]) -> Result<(), JoinError> {
    if trials.len() < 2 {
        return Err(JoinError::TooFewTrials { trials: trials.len() });
    }
    trials.iter().try_for_each(check_one)?;
    if let Some(twice) = trials.iter().enumerate().find(|(at, it)| trials[..*at].iter().any(|b| b.name == it.name)) {
        return Err(JoinError::TrialTwice { trial: twice.1.name.clone() });
    }
    let smallest = trials.iter().map(|it| it.estimate).fold(f64::INFINITY, f64::min);
    let largest = trials.iter().map(|it| it.estimate).fold(f64::NEG_INFINITY, f64::max);
    let widest = trials.iter().map(|it| it.se).fold(largest - smallest, f64::max);
    match trials.iter().find(|it| it.se < ROUNDING * widest) {
        Some(it) => Err(JoinError::ErrorTooSmall { trial: it.name.clone(), se: it.se, beside: widest }),
        None => Ok(()),
    }
}

fn check_one(trial: &TrialSummary) -> Result<(), JoinError> {
    let wrong = |what: &'static str, value: f64, expected: &'static str| {
        Err(JoinError::NotUsable { trial: trial.name.clone(), what: what.into(), value, expected: expected.into() })
    };
    let TrialSummary { estimate, se, df, .. } = *trial;
    if !estimate.is_finite() {
        return wrong("estimate", estimate, "a number");
    }
    if !(se.is_finite() && se > 0.0) {
        return wrong("standard error", se, "a number above zero");
    }
    if let Some(df) = df.filter(|df| df.is_nan() || *df <= 0.0) {
        return wrong("degrees of freedom", df, "above zero, or left out");
    }
    if estimate.abs() > LARGEST {
        return wrong("estimate", estimate, "a number that a field can give");
    }
    if !(SMALLEST..=LARGEST).contains(&se) {
        return wrong("standard error", se, "a number that a field can give");
    }
    Ok(())
}
