//! The fitted mixed model, for people.

use super::cross_products::CrossProducts;
use super::kenward_roger;
use super::reml::{self, Optimum};
use crate::fit::Fit;
use crate::plots::Plots;
use crate::strata::Partition;
use crate::{InferenceError, Notice};
use serde::{Deserialize, Serialize};

/// Variance components by REML.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct MixedFit {
    /// Components of the strata further out than the plots, outermost first.
    pub components: Vec<VarianceComponent>,
    /// Variance between plots within everything else.
    pub residual_variance: f64,
    /// Restricted log-likelihood: `-2 log L = log|V| + log|X'V^-1X| + r'V^-1r + (n-p) log(2 pi)` with `X` in treatment
    /// coding or as cell means, which give the same number.
    pub reml_log_likelihood: f64,
    /// How the search went.
    pub evidence: Evidence,
}

/// The variance of one stratum's units.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct VarianceComponent {
    /// Name of the stratum.
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

/// The mixed model with what further work needs.
#[derive(Debug, Clone)]
pub(crate) struct MixedAnalysis {
    pub mixed: MixedFit,
    pub fit: Fit,
    /// Fitted value of each used plot, units included, minus the grand mean.
    pub fitted: Vec<f64>,
    pub notices: Vec<Notice>,
}

/// Fits the model: the last partition is the plots, the others are random.
pub(crate) fn fit(plots: &Plots, partitions: &[Partition]) -> Result<MixedAnalysis, InferenceError> {
    let mut random = partitions[..partitions.len() - 1].to_vec();
    let inseparable = || InferenceError::VariancesNotSeparable { plots: plots.count() };
    let kept = reml::separable(&CrossProducts::of(plots, &random)).ok_or_else(inseparable)?;
    let mut left_out = Vec::new();
    let mut notices = Vec::new();
    for index in (0..random.len()).rev().filter(|index| !kept.contains(index)) {
        let partition = random.remove(index);
        notices.push(Notice::VarianceNotSeparable { stratum: partition.name.clone() });
        left_out.push(partition);
    }
    let cross = CrossProducts::of(plots, &random);
    let optimum = reml::maximise(&cross)?;
    let mut fit = kenward_roger::fit(plots, &cross, &optimum).ok_or_else(inseparable)?;
    fit.unknown = left_out.iter().map(|partition| (partition.name.clone(), direct_share(plots, partition))).collect();
    let mixed = described(&cross, &random, &optimum, &fit);
    notices.extend(
        mixed.components.iter().filter(|it| it.at_zero).map(|it| Notice::VarianceAtZero { stratum: it.name.clone() }),
    );
    let fitted = fitted(plots, &random, &cross, &optimum);
    Ok(MixedAnalysis { mixed, fit, fitted, notices })
}

/// How plain treatment means vary with the variance of a stratum that was left out.
fn direct_share(plots: &Plots, partition: &Partition) -> crate::matrix::Matrix {
    let mut weights = crate::matrix::Matrix::zeros(plots.replication.len(), partition.classes);
    for (&class, &treatment) in partition.class.iter().zip(&plots.treatment) {
        weights[(treatment, class)] += 1.0 / plots.replication[treatment];
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

/// Treatment mean plus predicted effects of the units (best linear unbiased prediction).
fn fitted(plots: &Plots, random: &[Partition], cross: &CrossProducts, optimum: &Optimum) -> Vec<f64> {
    let means = kenward_roger::means(plots, &optimum.evaluation);
    (0..plots.count())
        .map(|plot| {
            let effects: f64 = (0..random.len())
                .map(|k| {
                    optimum.ratios[k] * optimum.evaluation.units_response[cross.ranges[k].0 + random[k].class[plot]]
                })
                .sum();
            means[plots.treatment[plot]] + effects
        })
        .collect()
}
