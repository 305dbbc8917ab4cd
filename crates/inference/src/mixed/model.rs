//! The fitted mixed model, for people.

use super::cross_products::CrossProducts;
use super::kenward_roger;
use super::reml::{self, Optimum};
use crate::fit::Fit;
use crate::matrix::Matrix;
use crate::model::{Kind, Partition};
use crate::plots::Plots;
use crate::{InferenceError, Notice};
use serde::{Deserialize, Serialize};

/// Variance components by REML.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct MixedFit {
    /// Components of the random terms, coarser ones first: strata further out than the plots, treatments in places and
    /// seasons, samples.
    pub components: Vec<VarianceComponent>,
    /// Variance between plots within everything else.
    pub residual_variance: f64,
    /// Restricted log-likelihood: `-2 log L = log|V| + log|X'V^-1X| + r'V^-1r + (n-p) log(2 pi)` with `X` in treatment
    /// coding or as cell means, which give the same number.
    pub reml_log_likelihood: f64,
    /// How the search went.
    pub evidence: Evidence,
}

/// The variance of one random term's effects.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct VarianceComponent {
    /// Name of the term.
    pub name: String,
    /// Its variance.
    pub variance: f64,
    /// Whether the likelihood puts it at zero, the edge of what is possible.
    pub at_zero: bool,
    /// Standard error from the expected information, when no component is at zero.
    pub se: Option<f64>,
}

/// How the search for the variances went.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Evidence {
    /// Steps taken.
    pub iterations: usize,
    /// Largest absolute gradient of minus twice the log-likelihood by the logarithm (or value, if below one) of a free ratio.
    pub gradient: f64,
    /// Why it stopped.
    pub stop: StopReason,
    /// Whether some component is at zero.
    pub singular: bool,
}

/// Why the search for the variances stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StopReason {
    /// No step can improve the likelihood by more than rounding.
    Settled,
    /// Every component is at zero.
    Edge,
    /// There is no component to search for: all variation is between plots.
    Closed,
    /// Too many steps.
    Steps,
}

/// Units that vary by a million times the plots' standard deviation: what is left for plots is the rounding of the values, or of
/// sums of squares whose first twelve digits are the units'.
const LARGEST_RATIO: f64 = 1e12;

/// The mixed model with what further work needs.
#[derive(Debug, Clone)]
pub(crate) struct MixedAnalysis {
    pub mixed: MixedFit,
    pub fit: Fit,
    /// The random terms in the model.
    pub random: Vec<Partition>,
    /// Cross products and the maximum of the likelihood.
    pub cross: CrossProducts,
    pub optimum: Optimum,
    /// Fitted value of each used plot, random effects included, minus the grand mean.
    pub fitted: Vec<f64>,
    pub notices: Vec<Notice>,
}

/// Fits the model: the last partition is the plots, the others are random.
pub(crate) fn fit(plots: &Plots, partitions: &[Partition]) -> Result<MixedAnalysis, InferenceError> {
    let columns: Vec<&[f64]> = plots.covariates.iter().map(|it| it.within.as_slice()).collect();
    let mut random = partitions[..partitions.len() - 1].to_vec();
    let inseparable = || InferenceError::VariancesNotSeparable { plots: plots.count() };
    let mut cross = CrossProducts::of(plots, &random, &columns).ok_or_else(inseparable)?;
    let kept = reml::separable(&cross).ok_or_else(inseparable)?;
    let mut left_out = Vec::new();
    let mut notices = Vec::new();
    if kept.len() < random.len() {
        for index in (0..random.len()).rev().filter(|index| !kept.contains(index)) {
            let partition = random.remove(index);
            notices.push(Notice::VarianceNotSeparable { stratum: partition.name.clone() });
            left_out.push(partition);
        }
        cross = CrossProducts::of(plots, &random, &columns).ok_or_else(inseparable)?;
    }
    let optimum = reml::maximise(&cross)?;
    if optimum.ratios.iter().any(|&ratio| ratio > LARGEST_RATIO) {
        return Err(InferenceError::NoVariation);
    }
    let mut fit = kenward_roger::fit(plots, &cross, &optimum).ok_or_else(inseparable)?;
    fit.unknown = left_out.iter().map(|partition| (partition.name.clone(), direct_share(plots, partition))).collect();
    let mixed = described(&cross, &random, &optimum, &fit);
    let at_zero = mixed.components.iter().filter(|it| it.at_zero);
    notices.extend(at_zero.map(|it| Notice::VarianceAtZero { stratum: it.name.clone() }));
    let fitted = fitted(plots, &random, &cross, &optimum, &fit.estimates);
    Ok(MixedAnalysis { mixed, fit, random, cross, optimum, fitted, notices })
}

impl MixedAnalysis {
    /// The same random terms with other fixed columns, each as deviations from the means of the cells.
    pub fn with_columns(&self, plots: &Plots, columns: &[&[f64]]) -> Option<Fit> {
        let cross = CrossProducts::of(plots, &self.random, columns)?;
        if cross.residual_df() < 1.0 {
            return None;
        }
        let optimum = reml::maximise(&cross).ok()?;
        kenward_roger::fit(plots, &cross, &optimum)
    }
}

/// How plain cell means vary with the variance of a term that was left out; nothing for treatments in places and seasons and for
/// samples, whose comparisons are then judged by what is left.
pub(crate) fn direct_share(plots: &Plots, partition: &Partition) -> Matrix {
    let mut weights = Matrix::zeros(plots.parameters(), partition.division.classes);
    if partition.kind == Kind::Units {
        for (&class, &cell) in partition.division.class.iter().zip(&plots.cell) {
            weights[(cell, class)] += 1.0 / plots.cells.replication[cell];
        }
    }
    weights.times_transposed(&weights)
}

fn described(cross: &CrossProducts, random: &[Partition], optimum: &Optimum, fit: &Fit) -> MixedFit {
    let singular = optimum.ratios.contains(&0.0);
    let count = random.len();
    let covariance = &fit.parameter_covariance;
    let component = |k: usize| {
        let variance = optimum.ratios[k] * optimum.residual_variance;
        // the component is its own parameter plus its share of the factor on the whole
        let squared = covariance[(k, k)]
            + 2.0 * variance * covariance[(k, count)]
            + variance.powi(2) * covariance[(count, count)];
        let se = (!singular).then(|| squared.sqrt());
        VarianceComponent { name: random[k].name.clone(), variance, at_zero: optimum.ratios[k] == 0.0, se }
    };
    let df = cross.residual_df();
    // criterion = df log(y'Py) + ...; with the residual variance y'Py / df
    let minus_twice = optimum.criterion - df * df.ln() + df + df * (2.0 * std::f64::consts::PI).ln();
    let evidence =
        Evidence { iterations: optimum.iterations, gradient: optimum.gradient, stop: optimum.stop, singular };
    MixedFit {
        components: (0..count).map(component).collect(),
        residual_variance: optimum.residual_variance,
        reml_log_likelihood: -0.5 * minus_twice,
        evidence,
    }
}

/// Fixed part plus predicted effects (best linear unbiased prediction).
fn fitted(
    plots: &Plots,
    random: &[Partition],
    cross: &CrossProducts,
    optimum: &Optimum,
    estimates: &[f64],
) -> Vec<f64> {
    let (means, slopes) = estimates.split_at(plots.cells.replication.len());
    let value = |plot: usize| {
        let adjustment: f64 = plots.covariates.iter().zip(slopes).map(|(it, slope)| slope * it.within[plot]).sum();
        let effects = (0..random.len()).map(|k| {
            let index = cross.ranges[k].0 + random[k].division.class[plot];
            if index < cross.ranges[k].1 { optimum.ratios[k] * optimum.evaluation.random_response[index] } else { 0.0 }
        });
        means[plots.cell[plot]] + adjustment + effects.sum::<f64>()
    };
    (0..plots.count()).map(value).collect()
}
