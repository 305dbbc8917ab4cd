//! The whole analysis of one response.

mod analyse;
mod asked;
mod kept;
mod leading;
mod parts;

pub use analyse::analyse;
pub(crate) use analyse::mixed_tests;
pub(crate) use asked::effect_among;
pub use asked::{ContrastRow, ContrastTable, NamedContrast, SimpleEffect};
pub(crate) use kept::Kept;
pub use parts::{Compared, ModelParts, PartCell, PartRandom, PartTerm};

use crate::mixed::{MixedFit, PredictionTable};
use crate::strata::StrataTable;
use crate::{CovariateResult, FixedUnits, MeansTable, Notice, TermTest};
use serde::{Deserialize, Serialize};

/// Everything that one response says about the treatments.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Analysis {
    /// Level of tests, intervals and LSD.
    pub level: f64,
    /// Number of plots with a value.
    pub plots_used: usize,
    /// Indices of the plots without one, or without that of a covariate.
    pub plots_missing: Vec<usize>,
    /// Mean of the plots used.
    pub grand_mean: f64,
    /// Whether the layout, as observed, divides every treatment comparison cleanly over the strata.
    pub orthogonal: bool,
    /// Which method the means, differences and leading tests come from.
    pub lead: Lead,
    /// The classical analysis, where the layout is orthogonal.
    pub strata: Option<StrataTable>,
    /// The mixed model; none where there are no units larger than plots, since it would be the same.
    pub mixed: Option<MixedFit>,
    /// Tests of all fixed terms by the leading method: places and seasons, controls, main effects, then interactions.
    pub tests: Vec<TermTest>,
    /// The same by the other method, where there are two.
    pub other_tests: Vec<TermTest>,
    /// Means of every fixed term; first of all treatments, where there are controls.
    pub tables: Vec<MeansTable>,
    /// Coefficients of variation.
    pub cv: Vec<StratumCv>,
    /// One entry per used plot.
    pub residuals: Vec<Residual>,
    /// What a reader must know.
    pub notices: Vec<Notice>,
    /// One sentence on why the two methods differ, if they do.
    pub difference_between_methods: Option<String>,
    /// Least squares with units as fixed effects, where asked for or where the layout is not orthogonal.
    pub fixed_units: Option<FixedUnits>,
    /// What the means were adjusted for.
    #[serde(default)]
    pub covariates: Vec<CovariateResult>,
    /// Predicted effects of all random terms of the mixed model: units, treatments in places and seasons, samples.
    #[serde(default)]
    pub predictions: Vec<PredictionTable>,
    #[serde(skip)]
    pub(crate) kept: Option<Box<Kept>>,
}

/// Which method leads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Lead {
    /// The classical strata.
    Strata,
    /// REML with Kenward-Roger.
    Mixed,
}

/// The coefficient of variation of one stratum's error.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct StratumCv {
    /// Name of the stratum.
    pub stratum: String,
    /// Square root of the error mean square (per plot) over the grand mean, in percent; none when the grand mean is zero.
    pub percent: Option<f64>,
}

/// What the model leaves of one plot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Residual {
    /// Index of the plot in the experiment.
    pub plot: usize,
    /// Treatment mean plus the effects of the plot's larger units.
    pub fitted: f64,
    /// Value minus fitted.
    pub residual: f64,
    /// Residual over the root mean square of all residuals.
    pub standardised: f64,
}
