//! Plots out of line, by one rule for all trials.

use super::StudentisedResidual;
use crate::distribution::t_quantile;
use serde::{Deserialize, Serialize};

/// Plots whose residual is larger than the largest of so many may be expected to be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Outliers {
    /// Chance that any plot is flagged in a trial without one out of line.
    pub level: f64,
    /// Number of plots that were looked at.
    pub plots: usize,
    /// Externally studentised residuals beyond this size are flagged (level over plots, two-sided); none without enough error.
    pub critical: Option<f64>,
    /// The rule in words.
    pub rule: String,
    /// Those flagged, the largest first.
    pub flagged: Vec<Outlier>,
}

/// One plot out of line.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Outlier {
    /// Index of the plot in the experiment.
    pub plot: usize,
    /// Its externally studentised residual.
    pub external: f64,
    /// Its p times the number of plots.
    pub p: f64,
}

/// Bonferroni on externally studentised residuals.
///
/// # Source
/// Cook & Weisberg (1982), Residuals and Influence in Regression, section 2.2.2 (from memory).
pub(super) fn flagged(residuals: &[StudentisedResidual], error_df: f64, level: f64) -> Outliers {
    let tested: Vec<&StudentisedResidual> = residuals.iter().filter(|it| it.external.is_some()).collect();
    let plots = tested.len();
    let outlier = |it: &&StudentisedResidual| {
        let (external, p) = (it.external?, (it.p? * plots as f64).min(1.0));
        (p < level).then_some(Outlier { plot: it.plot, external, p })
    };
    let mut flagged: Vec<Outlier> = tested.iter().filter_map(outlier).collect();
    flagged.sort_by(|a, b| b.external.abs().total_cmp(&a.external.abs()));
    let critical = (plots > 0).then(|| -t_quantile(0.5 * level / plots as f64, error_df - 1.0));
    let rule = format!(
        "A plot is flagged when its residual, measured against the error without it, is so large that even the largest of {plots} would be so in fewer than {} of 100 trials (Bonferroni).",
        100.0 * level
    );
    Outliers { level, plots, critical, rule, flagged }
}
