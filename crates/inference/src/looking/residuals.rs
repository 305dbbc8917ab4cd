//! Residuals scaled by what each can be expected to be, and their normal scores.

use crate::Residual;
use crate::analysis::Kept;
use crate::distribution::{normal_quantile, t_two_sided};
use crate::fixed_units::{Directions, indicators};
use crate::matrix::{Cholesky, dot};
use crate::mixed::MixedAnalysis;
use serde::{Deserialize, Serialize};

/// A residual with less variance than this share of the error says nothing: the plot is fitted whatever its value.
const NOTHING_LEFT: f64 = 1e-8;

/// The residual of one plot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct StudentisedResidual {
    /// Index of the plot in the experiment.
    pub plot: usize,
    /// Fitted value.
    pub fitted: f64,
    /// Value minus fitted.
    pub residual: f64,
    /// Share of its own value in its fitted value: 1 means that the plot is fitted whatever it yielded.
    pub leverage: f64,
    /// Residual over its own standard error; none where the leverage is 1.
    pub internal: Option<f64>,
    /// The same with the error as it would be without this plot: a t with one degree of freedom fewer than the error.
    pub external: Option<f64>,
    /// Two-sided p of `external`, for this plot alone.
    pub p: Option<f64>,
    /// What a residual of its rank would be if all were normal with variance one.
    pub normal_score: f64,
}

/// One for each used plot, with the degrees of freedom of the error.
///
/// # Source
/// Cook & Weisberg (1982), Residuals and Influence in Regression, chapter 2; for the mixed model the same at the estimated variance
/// ratios; normal scores by Blom (1958), (rank - 3/8) / (n + 1/4) (all from memory). Checked against R.
pub(super) fn studentised(kept: &Kept, residuals: &[Residual]) -> (Vec<StudentisedResidual>, f64) {
    let (leverage, ms, df) = match (&kept.layout, &kept.mixed) {
        (Some(layout), _) => {
            let error = layout.plot_stratum();
            (within_units(kept), error.error_ms().unwrap_or(f64::NAN), error.error_df)
        }
        (None, Some(mixed)) => (of_model(kept, mixed), mixed.optimum.residual_variance, mixed.cross.residual_df()),
        (None, None) => (vec![f64::NAN; residuals.len()], f64::NAN, f64::NAN),
    };
    let scores = normal_scores(&residuals.iter().map(|it| it.residual).collect::<Vec<_>>());
    let of = |((it, leverage), normal_score): ((&Residual, f64), f64)| {
        let left = 1.0 - leverage;
        let internal = (left > NOTHING_LEFT && ms > 0.0).then(|| it.residual / (ms * left).sqrt());
        let external = internal.filter(|r| df > 1.0 && df > r * r).map(|r| r * ((df - 1.0) / (df - r * r)).sqrt());
        let p = external.map(|t| t_two_sided(t, df - 1.0));
        let (plot, fitted, residual) = (it.plot, it.fitted, it.residual);
        StudentisedResidual { plot, fitted, residual, leverage, internal, external, p, normal_score }
    };
    (residuals.iter().zip(leverage).zip(scores).map(of).collect(), df)
}

/// Diagonal of the projection on units, cells and covariates together.
fn within_units(kept: &Kept) -> Vec<f64> {
    let plots = &kept.plots;
    let mut known = Directions::beginning_with_the_mean(plots.count());
    for term in &kept.partitions[..kept.partitions.len() - 1] {
        known.add(indicators(term), &plots.value);
    }
    let of_cell = |cell: usize| plots.cell.iter().map(|&it| f64::from(u8::from(it == cell))).collect();
    known.add((0..plots.cells.replication.len()).map(of_cell).collect(), &plots.value);
    known.add(plots.covariates.iter().map(|it| it.within.clone()).collect(), &plots.value);
    known.squares()
}

/// One minus the diagonal of `P` (over the residual variance), by the inverse of Henderson's equations.
fn of_model(kept: &Kept, mixed: &MixedAnalysis) -> Vec<f64> {
    let plots = &kept.plots;
    let active: Vec<usize> = (0..mixed.random.len()).filter(|&k| mixed.optimum.ratios[k] > 0.0).collect();
    let Some(factor) = Cholesky::of(&mixed.cross.henderson(&active, &mixed.optimum.ratios)) else {
        return vec![f64::NAN; plots.count()];
    };
    let inverse = factor.inverse();
    let fixed = plots.parameters();
    let of = |plot: usize| {
        let mut entries = vec![(plots.cell[plot], 1.0)];
        let cells = plots.cells.replication.len();
        entries.extend(plots.covariates.iter().enumerate().map(|(index, it)| (cells + index, it.within[plot])));
        let mut start = fixed;
        for &term in &active {
            let class = mixed.random[term].division.class[plot];
            if class < mixed.random[term].effects() {
                entries.push((start + class, 1.0));
            }
            start += mixed.random[term].effects();
        }
        let over =
            |(row, a): &(usize, f64)| entries.iter().map(|(column, b)| a * b * inverse[(*row, *column)]).sum::<f64>();
        entries.iter().map(over).sum()
    };
    (0..plots.count()).map(of).collect()
}

/// Equal residuals share the mean of their ranks.
fn normal_scores(residuals: &[f64]) -> Vec<f64> {
    let count = residuals.len();
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by(|&a, &b| residuals[a].total_cmp(&residuals[b]));
    let size = dot(residuals, residuals).sqrt();
    let mut scores = vec![0.0; count];
    let mut start = 0;
    while start < count {
        let same = |&other: &usize| residuals[order[other]] - residuals[order[start]] <= 1e-12 * size;
        let end = (start..count).take_while(same).count() + start;
        let rank = 0.5 * (start + 1 + end) as f64;
        let score = normal_quantile((rank - 0.375) / (count as f64 + 0.25));
        order[start..end].iter().for_each(|&it| scores[it] = score);
        start = end;
    }
    scores
}
