//! Estimates and variances brought to a common scale, so that no unit makes a square overflow or vanish.

use super::TrialSummary;

/// Trials with the estimate of the most exact one as origin and the widest difference or standard error as unit.
#[derive(Debug, Clone)]
pub(crate) struct Scaled {
    /// Estimates less `origin`, over `unit`.
    pub estimates: Vec<f64>,
    /// Squared standard errors over the squared unit.
    pub variances: Vec<f64>,
    /// The estimate of the trial with the smallest standard error. As its weight is the largest whatever the variance between
    /// trials, the mean is never far from zero, and its residual keeps its digits.
    pub origin: f64,
    /// The unit.
    pub unit: f64,
}

impl Scaled {
    /// - `trials`: two or more, checked
    pub fn of(trials: &[&TrialSummary]) -> Self {
        let exact = trials.iter().min_by(|a, b| a.se.total_cmp(&b.se)).expect("two trials or more");
        let origin = exact.estimate;
        let unit = trials.iter().map(|it| (it.estimate - origin).abs().max(it.se)).fold(0.0, f64::max);
        Self {
            estimates: trials.iter().map(|it| (it.estimate - origin) / unit).collect(),
            variances: trials.iter().map(|it| (it.se / unit).powi(2)).collect(),
            origin,
            unit,
        }
    }
}
