//! The fitted model, for people and for what is computed from it.

use super::kenward_roger::FixedEstimates;
use super::part::Shape;
use crate::fit::Fit;
use crate::matrix::Matrix;
use crate::mixed::Evidence;
use serde::{Deserialize, Serialize};

/// A model whose errors are correlated or of unequal variance, by residual maximum likelihood.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct CorrelatedFit {
    /// The parts of the covariance.
    pub parts: Vec<FittedPart>,
    /// Restricted log-likelihood: `-2 log L = log|V| + log|X'V^-1X| + r'V^-1r + (n-p) log(2 pi)`, `X` with treatments as cell means or
    /// in treatment coding.
    pub reml_log_likelihood: f64,
    /// Number of covariance parameters, those at an edge counted.
    pub covariance_parameters: usize,
    /// Degrees of freedom left by the fixed part, `n - p`.
    pub residual_df: f64,
    /// Akaike's criterion, `-2 log L + 2 k`; comparable between models of the same fixed part only.
    pub aic: f64,
    /// Schwarz's criterion, `-2 log L + k log(n - p)`; likewise.
    pub bic: f64,
    /// Where the likelihood has its maximum at the edge of what is possible, or nowhere.
    pub edges: Vec<Edge>,
    /// How the search went.
    pub evidence: Evidence,
}

/// One part of the covariance as fitted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct FittedPart {
    /// Its name.
    pub name: String,
    /// Its variance, or one for each group.
    pub variances: Vec<FittedVariance>,
    /// What happens along each of its axes.
    pub axes: Vec<FittedAxis>,
    /// Mean over the observations of what it adds to their variance.
    pub mean_variance: f64,
    /// How many fixed parameters its predicted effects are worth; none for the residual.
    pub effective_parameters: Option<f64>,
}

/// One variance of a part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct FittedVariance {
    /// The group of observations that it holds for; none when there is one variance.
    pub group: Option<String>,
    /// The variance; of a walk, half the variance of the difference over one step.
    pub variance: f64,
    /// Whether the likelihood puts it at zero.
    pub at_zero: bool,
    /// Standard error by the expected information; none when something is at an edge.
    pub se: Option<f64>,
}

/// One axis of a part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct FittedAxis {
    /// Its name.
    pub name: String,
    /// How the covariance changes along it.
    pub shape: Shape,
    /// The correlation over one unit of the axis, where it was estimated.
    pub correlation: Option<f64>,
    /// Its standard error by the expected information; none when something is at an edge.
    pub se: Option<f64>,
}

/// The likelihood has no maximum inside what is possible.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Edge {
    /// A variance at zero.
    VarianceAtZero {
        /// The part.
        part: String,
        /// The group, where there are several.
        group: Option<String>,
    },
    /// A correlation runs to one while the variance of the part stays: the part is the same all along the axis, and is given so.
    CorrelationAtOne {
        /// The part.
        part: String,
        /// The axis.
        axis: String,
    },
    /// Correlations run to one and the variance of the part to infinity, while the variance of a step stays: there is no largest
    /// likelihood. What is given is the limit, a walk with independent steps.
    NoInteriorMaximum {
        /// The part.
        part: String,
        /// The axes.
        axes: Vec<String>,
        /// Log-likelihood at a correlation of 0.9995, below that of the limit.
        approached_log_likelihood: f64,
        /// Derivative of the log-likelihood from the limit toward the inside, by one over the variance of the part; not positive.
        inward_score: f64,
    },
    /// A correlation runs to minus one.
    CorrelationAtMinusOne {
        /// The part.
        part: String,
        /// The axis.
        axis: String,
    },
    /// The part cannot be told from the others and was left out.
    NotToldApart {
        /// The part.
        part: String,
    },
}

/// What the model leaves of one observation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ObservationFit {
    /// Fixed part plus the predicted effects of all parts but the residual.
    pub fitted: f64,
    /// Value minus fitted: the predicted residual.
    pub residual: f64,
    /// Value minus what fixed part and all other observations say of it, over the standard error of that.
    pub studentised: f64,
}

/// The predicted effects of one part (best linear unbiased prediction).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PartEffects {
    /// The part.
    pub part: String,
    /// For each observation.
    pub effects: Vec<f64>,
}

/// A fitted model with what further work needs.
#[derive(Debug, Clone, PartialEq)]
pub struct CorrelatedAnalysis {
    /// The model for people.
    pub model: CorrelatedFit,
    /// One entry per observation.
    pub observations: Vec<ObservationFit>,
    /// Effects of all parts but the residual.
    pub effects: Vec<PartEffects>,
    /// What was taken off every value.
    pub(crate) mean: f64,
    pub(crate) offsets: Matrix,
    pub(crate) fixed: FixedEstimates,
}

impl CorrelatedAnalysis {
    /// The means with all that comparisons need, one treatment for each cell.
    ///
    /// - `labels`: of the cells
    pub fn fit(&self, labels: Vec<String>) -> Fit {
        let cells = self.offsets.rows;
        Fit {
            present: (0..cells).map(Some).collect(),
            of_treatment: (0..cells).map(|cell| vec![cell]).collect(),
            labels,
            ..self.with_estimates(Fit::default())
        }
    }

    /// Mean of each cell at the overall means of the columns.
    pub fn means(&self) -> Vec<f64> {
        let cells = self.offsets.rows;
        let (means, slopes) = self.fixed.estimates.split_at(cells);
        (0..cells).map(|cell| self.mean + means[cell] + crate::matrix::dot(self.offsets.row(cell), slopes)).collect()
    }

    /// Variance of a comparison of the cells by the model as fitted, its covariance taken as known.
    pub fn plain_variance(&self, weights: &[f64]) -> f64 {
        let cells = self.offsets.rows;
        let mut row = weights.to_vec();
        row.resize(self.fixed.estimates.len(), 0.0);
        for (cell, &weight) in weights.iter().enumerate() {
            crate::matrix::add_scaled(&mut row[cells..], weight, self.offsets.row(cell));
        }
        self.fixed.covariance.quadratic_form(&row)
    }

    /// The estimates on cells that are described.
    pub(crate) fn with_estimates(&self, cells: Fit) -> Fit {
        let fixed = self.fixed.clone();
        Fit {
            grand_mean: self.mean,
            estimates: fixed.estimates,
            offsets: self.offsets.clone(),
            covariance: fixed.covariance,
            adjusted: fixed.adjusted,
            slopes: fixed.slopes,
            parameter_covariance: fixed.parameter_covariance,
            observed_covariance: fixed.observed_covariance,
            ..cells
        }
    }
}
