//! Counts, shares of a number and scores of a trial, analysed as its layout demands.
//!
//! [`analyse_discrete`] makes the model from the experiment: a mean for every treatment (in every fixed place and season), an
//! effect for every unit of the layout, the plots included, and the variation of counting. What [`crate::generalised`] and
//! [`crate::ordinal`] fit is then told in the tables and tests of any other analysis.

mod analyse;
mod fitted;
mod kind;
mod model;
mod natural;
mod tests_of_terms;

use crate::fit::Fit;
use crate::generalised::{GeneralisedFit, Link, UnitVariance};
use crate::ordinal::OrdinalFit;
use crate::{Estimate, Evidence, InferenceError, MeansTable, Notice, TermTest};
use serde::{Deserialize, Serialize};

pub use analyse::analyse_discrete;
pub use kind::{DiscreteKind, plain_values};

/// What counts, shares or scores say about the treatments.
///
/// Means are given twice: on the link's scale, where treatments add and where tests are made, and in the unit of what was
/// counted ([`DiscreteKind`]), where people read them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct DiscreteAnalysis {
    /// Level of tests, intervals and LSD.
    pub level: f64,
    /// Number of plots with a value.
    pub plots_used: usize,
    /// Indices of the plots without one.
    pub plots_missing: Vec<usize>,
    /// The scale on which treatments add.
    pub link: Link,
    /// The model in one sentence.
    pub model: String,
    /// Tests of all fixed terms.
    pub tests: Vec<TermTest>,
    /// Whether degrees of freedom are those of the same comparisons among the plain values; otherwise they are infinite.
    pub has_error_df: bool,
    /// Means of every fixed term in the unit of what was counted: averages of the treatments' means in a unit of middling
    /// effect, with intervals that stay within what is possible. Differences are in the same unit, by the delta method.
    pub tables: Vec<MeansTable>,
    /// The same on the link's scale; differences are logarithms of odds ratios or of ratios. Letters and p stand here.
    pub on_link: Vec<MeansTable>,
    /// Treatments in which nothing or everything was counted, or only the lowest or highest score given; they are in no table.
    pub at_edge: Vec<EdgeMean>,
    /// Variances of the units on the link's scale.
    pub components: Vec<UnitVariance>,
    /// Logarithm of the likelihood (Laplace's approximation), constants included.
    pub log_likelihood: f64,
    /// How the search went.
    pub evidence: Evidence,
    /// The fit by itself.
    pub fit: DiscreteFit,
    /// What a reader must know.
    pub notices: Vec<Notice>,
    #[serde(skip)]
    kept: Option<Box<Kept>>,
}

/// The fitted model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(tag = "of", content = "fit", rename_all = "snake_case")]
pub enum DiscreteFit {
    /// Counts or shares.
    Counted(GeneralisedFit),
    /// Scores.
    Scored(OrdinalFit),
}

/// A treatment that has no mean on the link's scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct EdgeMean {
    /// Its label.
    pub label: String,
    /// What was observed, in the unit in which means are told.
    pub mean: f64,
    /// Lower end of the exact interval of the counts taken together; none for scores.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
}

/// What further comparisons are computed from.
#[derive(Debug, Clone, PartialEq)]
struct Kept {
    natural: Fit,
    on_link: Fit,
}

impl DiscreteAnalysis {
    /// Any comparison of treatment means in the unit of what was counted.
    ///
    /// - `weights`: one per treatment, in the order of `TreatmentStructure::treatments()`
    ///
    /// # Errors
    /// [`InferenceError::NotEstimable`] for a treatment without values or in which nothing or everything was counted;
    /// otherwise as [`Fit::contrast`]. [`InferenceError::FitNotKept`] when the analysis was read back from a file.
    pub fn contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        self.kept()?.natural.contrast(weights)
    }

    /// The same on the link's scale: logarithms of odds ratios or of ratios of counts.
    ///
    /// # Errors
    /// As [`Self::contrast`].
    pub fn link_contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        self.kept()?.on_link.contrast(weights)
    }

    /// The table of these factors (empty: of all treatments) in the unit of what was counted.
    pub fn table(&self, term: &[&str]) -> Option<&MeansTable> {
        self.tables.iter().find(|table| table.term == term)
    }

    fn kept(&self) -> Result<&Kept, InferenceError> {
        self.kept.as_deref().ok_or(InferenceError::FitNotKept)
    }
}
