//! What the leading method leaves of every plot, and how variable its errors are.

use super::{Lead, Residual, StratumCv};
use crate::mixed::MixedAnalysis;
use crate::plots::Plots;
use crate::strata::OrthogonalLayout;

/// One residual per used plot: within all larger units.
pub(super) fn residuals(
    plots: &Plots,
    lead: Lead,
    layout: Option<&OrthogonalLayout>,
    mixed: Option<&MixedAnalysis>,
) -> Vec<Residual> {
    let left: Vec<f64> = match (lead, layout, mixed) {
        (Lead::Strata, Some(layout), _) => layout.plot_stratum().deviations.clone(),
        (_, _, Some(mixed)) => plots.value.iter().zip(&mixed.fitted).map(|(value, fitted)| value - fitted).collect(),
        _ => plots.within_cells(),
    };
    let root_mean_square = (crate::matrix::dot(&left, &left) / left.len() as f64).sqrt();
    let of = |(position, &residual): (usize, &f64)| Residual {
        plot: plots.index[position],
        fitted: plots.grand_mean + plots.value[position] - residual,
        residual,
        standardised: if root_mean_square > 0.0 { residual / root_mean_square } else { 0.0 },
    };
    left.iter().enumerate().map(of).collect()
}

/// Coefficients of variation of the strata, or of the plots in a mixed model.
pub(super) fn cv(plots: &Plots, layout: Option<&OrthogonalLayout>, mixed: Option<&MixedAnalysis>) -> Vec<StratumCv> {
    let percent = |ms: f64| (plots.grand_mean != 0.0).then(|| 100.0 * ms.sqrt() / plots.grand_mean.abs());
    match (layout, mixed) {
        (Some(layout), _) => {
            let errors = layout.strata.iter().filter_map(|it| it.error_ms().map(|ms| (it.name.clone(), ms)));
            errors.map(|(stratum, ms)| StratumCv { stratum, percent: percent(ms) }).collect()
        }
        (None, Some(mixed)) => {
            vec![StratumCv { stratum: "plot".into(), percent: percent(mixed.mixed.residual_variance) }]
        }
        (None, None) => Vec::new(),
    }
}
