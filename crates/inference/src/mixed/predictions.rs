//! Best linear unbiased predictions of random effects, with their errors.
//!
//! With `Z_k' P y` and `Z_k' P Z_k` at the estimated variances (in units of the residual variance), an effect is predicted as
//! `ratio Z' P y`, and the errors of prediction have the covariance `ratio I - ratio^2 Z' P Z` times the residual variance.
//!
//! Source: Henderson (1975), Biometrics 31:423-447; Robinson (1991), Statist. Sci. 6:15-51; for heritability from differences
//! Cullis, Smith & Coombes (2006), J. Agric. Biol. Environ. Stat. 11:381-393 (all from memory); checked against lme4.

use super::model::MixedAnalysis;
use crate::Experiment;
use crate::Spread;
use crate::model::{Kind, Partition};
use crate::plots::Plots;
use serde::{Deserialize, Serialize};

/// Predicted effects of one random term.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PredictionTable {
    /// Names of the units and factors that label its classes.
    pub term: Vec<String>,
    /// Name for people.
    pub label: String,
    /// What its classes are.
    pub kind: PredictionKind,
    /// The variance of the effects.
    pub variance: f64,
    /// Share of the variance of a difference that the predictions recover: 1 - (mean variance of prediction error of a difference) /
    /// (2 x variance); none with the variance at zero. For sampled entries this is their heritability on the scale of this trial.
    pub heritability: Option<f64>,
    /// Standard errors of prediction of the differences.
    pub sed: Spread,
    /// One for each class.
    pub rows: Vec<Prediction>,
}

/// What the classes of a random term are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PredictionKind {
    /// Units of the ground.
    Units,
    /// Treatments in places and seasons.
    Interaction,
    /// Levels of a sampled factor, alone or in places and seasons.
    Sample,
}

/// The predicted effect of one class.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Prediction {
    /// Its labels, one for each name of the term.
    pub levels: Vec<String>,
    /// Name for people.
    pub label: String,
    /// Number of plots with a value.
    pub n: usize,
    /// Its effect, shrunken towards zero.
    pub effect: f64,
    /// The effect on top of the mean of the population that the levels were drawn from; none for units.
    pub mean: Option<f64>,
    /// Standard error of prediction of the effect: how far the true effect may lie from it.
    pub prediction_se: f64,
    /// Share of the effect's variance that the data recover, 1 - (prediction error variance) / variance; none with the variance at zero.
    pub reliability: Option<f64>,
}

/// Predictions of all random terms, in the model's order.
pub(crate) fn predictions(experiment: &Experiment, plots: &Plots, analysis: &MixedAnalysis) -> Vec<PredictionTable> {
    let population = population_mean(plots, analysis);
    let tables = analysis.random.iter().enumerate();
    tables.map(|(index, term)| table(experiment, plots, analysis, index, term, population)).collect()
}

/// Mean over the fixed combinations of the factorial, which sampled levels deviate from.
fn population_mean(plots: &Plots, analysis: &MixedAnalysis) -> Option<f64> {
    let cells = &plots.cells;
    let is_factorial = |cell: &usize| cells.treatments[cell % cells.treatments.len()].levels.is_some();
    let members: Vec<usize> = (0..cells.count()).filter(is_factorial).collect();
    let margin = crate::terms::Margin { levels: Vec::new(), members };
    margin.is_estimable(cells).then(|| analysis.fit.mean_of(&margin))
}

fn table(
    experiment: &Experiment,
    plots: &Plots,
    analysis: &MixedAnalysis,
    index: usize,
    term: &Partition,
    population: Option<f64>,
) -> PredictionTable {
    let evaluation = &analysis.optimum.evaluation;
    let (ratio, residual) = (analysis.optimum.ratios[index], analysis.optimum.residual_variance);
    let start = analysis.cross.ranges[index].0;
    let count = term.effects();
    let variance = ratio * residual;
    let error = |a: usize, b: usize| {
        let own = if a == b { ratio } else { 0.0 };
        residual * (own - ratio * ratio * evaluation.random[(start + a, start + b)])
    };
    let kind = match term.kind {
        Kind::Units => PredictionKind::Units,
        Kind::Interaction => PredictionKind::Interaction,
        Kind::Sample => PredictionKind::Sample,
    };
    let population = population.filter(|_| kind == PredictionKind::Sample);
    let sizes = term.division.sizes();
    let labels = term.class_labels(experiment, plots);
    let row = |(class, levels): (usize, Vec<String>)| {
        let effect = ratio * evaluation.random_response[start + class];
        let squared = error(class, class).max(0.0);
        Prediction {
            label: levels.join(", "),
            levels,
            n: sizes[class] as usize,
            effect,
            mean: population.map(|mean| mean + effect),
            prediction_se: squared.sqrt(),
            reliability: (variance > 0.0).then(|| 1.0 - squared / variance),
        }
    };
    let squared_differences = (0..count)
        .flat_map(|a| (0..a).map(move |b| (a, b)))
        .map(|(a, b)| (error(a, a) + error(b, b) - 2.0 * error(a, b)).max(0.0));
    let pairs = count * count.saturating_sub(1) / 2;
    let mean_square = squared_differences.clone().sum::<f64>() / pairs as f64;
    PredictionTable {
        term: term.labels.clone(),
        label: term.name.clone(),
        kind,
        variance,
        heritability: (variance > 0.0 && pairs > 0).then(|| 1.0 - mean_square / (2.0 * variance)),
        sed: Spread::of(squared_differences.map(f64::sqrt)),
        rows: labels.into_iter().enumerate().map(row).collect(),
    }
}
