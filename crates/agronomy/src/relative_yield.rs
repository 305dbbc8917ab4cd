//! Yields beside the trial's mean or its checks.

use crate::limits::Refused;
use crate::unit::Unit;

/// A mean as a percentage of the trial's mean: `mean / trial mean x 100`.
///
/// - `mean`, `trial_mean`: in one unit, at one standard moisture
/// # Errors
/// [`Refused`] when the trial's mean is not above zero.
/// # Source
/// Handbook of plot arithmetic, 10.
pub fn relative_yield_pct(mean: f64, trial_mean: f64) -> Result<f64, Refused> {
    share(mean, trial_mean, "trial mean")
}

/// A mean as a percentage of the check: `mean / check mean x 100`.
///
/// - `check_means`: one per check, each over its own plots; of several, their mean is taken
/// # Errors
/// [`Refused`] without a check, or when the check mean is not above zero.
/// # Source
/// Handbook of plot arithmetic, 10.
pub fn percent_of_check(mean: f64, check_means: &[f64]) -> Result<f64, Refused> {
    if check_means.is_empty() {
        return Err(Refused::new("number of checks", 0.0, Unit::Count, "at least 1"));
    }
    share(mean, check_means.iter().sum::<f64>() / check_means.len() as f64, "check mean")
}

fn share(mean: f64, base: f64, base_words: &'static str) -> Result<f64, Refused> {
    if !mean.is_finite() {
        return Err(Refused::new("mean", mean, Unit::Index, "a number"));
    }
    if base.is_finite() && base > 0.0 {
        Ok(mean / base * 100.0)
    } else {
        Err(Refused::new(base_words, base, Unit::Index, "above 0"))
    }
}
