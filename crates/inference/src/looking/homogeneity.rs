//! Whether plots vary alike in all places and seasons.

use crate::distribution::chi_square_upper;
use crate::model::{EnvironmentStratum, environment_strata, levels};
use crate::plots::Plots;
use crate::{Experiment, InferenceError, Options, Scope, analyse};
use serde::{Deserialize, Serialize};

/// The error of each place and season by itself, and whether they differ.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Homogeneity {
    /// One for each place and season that can be analysed by itself.
    pub environments: Vec<EnvironmentError>,
    /// Whether their errors differ; none with fewer than two.
    pub bartlett: Option<Bartlett>,
    /// Largest error over the smallest.
    pub largest_over_smallest: Option<f64>,
}

/// One place and season by itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct EnvironmentError {
    /// Name for people.
    pub label: String,
    /// Number of plots with a value.
    pub plots: usize,
    /// Their mean.
    pub mean: f64,
    /// Mean square between plots within treatments and units.
    pub error_ms: f64,
    /// Its degrees of freedom.
    pub error_df: f64,
}

/// Bartlett's test that several mean squares estimate one variance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Bartlett {
    /// The statistic.
    pub chi_square: f64,
    /// Its degrees of freedom.
    pub df: f64,
    /// Its upper tail.
    pub p: f64,
}

/// Analyses every place and season by itself and compares their errors; none where there is one only.
///
/// # Errors
/// As [`analyse`], for the experiment as a whole; a place that cannot be analysed by itself is left out.
pub fn homogeneity(experiment: &Experiment, options: &Options) -> Result<Option<Homogeneity>, InferenceError> {
    let (plots, _) = Plots::of(experiment)?;
    let (strata, _) = environment_strata(experiment, &plots.index)?;
    let Some(finest) = strata.iter().max_by_key(|stratum| stratum.division.classes) else { return Ok(None) };
    let labels = levels(experiment, &plots.index, finest);
    let each = labels.iter().enumerate().filter_map(|(class, labels)| {
        let alone = only(experiment, &plots, finest, class);
        of_one(&alone, labels.join(", "), options)
    });
    let environments: Vec<EnvironmentError> = each.collect();
    let errors: Vec<(f64, f64)> = environments.iter().map(|it| (it.error_ms, it.error_df)).collect();
    let (low, high) =
        errors.iter().fold((f64::MAX, 0.0), |(low, high): (f64, f64), it| (low.min(it.0), high.max(it.0)));
    Ok(Some(Homogeneity {
        bartlett: bartlett(&errors),
        largest_over_smallest: (environments.len() > 1 && low > 0.0).then(|| high / low),
        environments,
    }))
}

fn only(experiment: &Experiment, plots: &Plots, places: &EnvironmentStratum, class: usize) -> Experiment {
    let mut response = vec![None; experiment.response.len()];
    for (&plot, _) in plots.index.iter().zip(&places.division.class).filter(|(_, own)| **own == class) {
        response[plot] = experiment.response[plot];
    }
    Experiment { response, environments: Vec::new(), scope: Scope::default(), ..experiment.clone() }
}

fn of_one(alone: &Experiment, label: String, options: &Options) -> Option<EnvironmentError> {
    let analysis = analyse(alone, options).ok()?;
    let classical = analysis.strata.as_ref().and_then(|table| table.strata.last()?.row(crate::RESIDUAL).cloned());
    let (error_ms, error_df) = match (classical, &analysis.fixed_units, &analysis.mixed) {
        (Some(row), ..) => (row.ms, row.df),
        (None, Some(fixed), _) => (fixed.residual_ms, fixed.residual_df),
        (None, None, Some(mixed)) => (mixed.residual_variance, analysis.looking().ok()?.error_df),
        (None, None, None) => return None,
    };
    Some(EnvironmentError { label, plots: analysis.plots_used, mean: analysis.grand_mean, error_ms, error_df })
}

/// Bartlett's test of mean squares with their degrees of freedom; none with fewer than two, or when one is not above zero.
///
/// # Source
/// Bartlett (1937), Proc. R. Soc. A 160:268-282 (from memory); checked against R.
pub fn bartlett(mean_squares: &[(f64, f64)]) -> Option<Bartlett> {
    if mean_squares.len() < 2 || mean_squares.iter().any(|&(ms, df)| !(ms > 0.0 && df > 0.0)) {
        return None;
    }
    let total: f64 = mean_squares.iter().map(|it| it.1).sum();
    let pooled = mean_squares.iter().map(|(ms, df)| ms * df).sum::<f64>() / total;
    let spread: f64 = mean_squares.iter().map(|(ms, df)| df * (pooled / ms).ln()).sum();
    let df = (mean_squares.len() - 1) as f64;
    let correction = 1.0 + (mean_squares.iter().map(|it| 1.0 / it.1).sum::<f64>() - 1.0 / total) / (3.0 * df);
    let chi_square = (spread / correction).max(0.0);
    Some(Bartlett { chi_square, df, p: chi_square_upper(chi_square, df) })
}
