//! From an experiment and the places of its plots to both analyses.

use super::candidates::candidates;
use super::lead::lead;
use super::{FieldLead, FieldPositions};
use crate::correlated_errors::CorrelatedAnalysis;
use crate::error_models::{Compared, ErrorModels, Fixed, Rule, compare};
use crate::fit::{FTest, Fit};
use crate::{Analysis, Estimate, Experiment, InferenceError, MeansTable, Notice, Options, TermTest};
use serde::{Deserialize, Serialize};

/// The analysis as randomised, and beside it the models of the ground with the one chosen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct FieldTrend {
    /// The analysis as randomised: what [`crate::analyse`] says of the same experiment.
    pub as_randomised: Analysis,
    /// All models that were tried, with the choice.
    pub models: ErrorModels,
    /// Which of the two a reader should take means and differences from.
    pub lead: FieldLead,
    /// Why, in words.
    pub why: String,
    /// Tests of all fixed terms by the chosen model (Kenward and Roger). They reject too often, since the model was chosen by the same values: those
    /// of `as_randomised` lead always.
    pub tests: Vec<TermTest>,
    /// Means of every fixed term by the chosen model, with all differences.
    pub tables: Vec<MeansTable>,
    /// What the chosen model says of every plot with a value.
    pub plots: Vec<PlotOnField>,
    /// What a reader of the chosen model must know.
    pub notices: Vec<Notice>,
    #[serde(skip)]
    fit: Option<Box<Fit>>,
}

/// One plot by the chosen model: `value = treatment mean + ground + residual`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PlotOnField {
    /// Index of the plot in the experiment.
    pub plot: usize,
    /// Its range.
    pub range: usize,
    /// Its pass.
    pub pass: usize,
    /// Its value.
    pub value: f64,
    /// What its ground adds: blocks, rows, columns and trend, predicted (best linear unbiased). In a model without independent errors all that the
    /// treatment mean leaves.
    pub ground: f64,
    /// What is left; zero in a model without independent errors.
    pub residual: f64,
    /// Value minus what the means and all other plots say of it, over the standard error of that.
    pub studentised: f64,
}

/// Analyses one response with models of the field's trend beside the analysis as randomised.
///
/// Up to five models, each with the units of the arrangement: as randomised; with rows and columns of the field; with a smooth trend; with first-order
/// autoregression, without and with independent errors. Compared by Akaike's criterion on the restricted likelihood.
///
/// - `positions`: range and pass of every plot, in the order of the experiment
///
/// # Errors
/// [`InferenceError`] as [`crate::analyse`]; when positions do not fit the plots, when the plots stand on several fields, or when more than
/// [`crate::correlated_errors::MOST_JOINED`] plots hang together.
/// # Source
/// See `candidates.rs` for the models and `error_models/choice.rs` for the criterion; checked against published trials in
/// `tests/field_trend/`.
/// # Example
/// ```
/// use guardrow_design::{BlockStructure, Factor, Level, Scale, TreatmentStructure};
/// use guardrow_inference::{Experiment, FieldPositions, Options, field_trend};
/// let level = |label: &str| Level { label: label.into(), amount: None };
/// let seed = Factor { name: "seed".into(), scale: Scale::Qualitative, levels: vec![level("old"), level("new")] };
/// let trial = Experiment::new(
///     BlockStructure::unit("block").nest(BlockStructure::unit("plot")),
///     vec![("block".into(), vec![1, 1, 2, 2, 3, 3, 4, 4])],
///     TreatmentStructure { factors: vec![seed], controls: Vec::new() },
///     vec![0, 1, 1, 0, 0, 1, 1, 0],
///     [4.1, 4.6, 5.2, 4.4, 3.9, 4.7, 5.0, 4.3].map(Some).to_vec(),
/// );
/// let places = FieldPositions::new(vec![1; 8], (1..=8).collect());
/// let result = field_trend(&trial, &places, &Options::default())?;
/// assert_eq!(result.models.models[0].name, "as randomised");
/// println!("{} {}", result.models.reason, result.why);
/// # Ok::<(), guardrow_inference::InferenceError>(())
/// ```
pub fn field_trend(
    experiment: &Experiment,
    positions: &FieldPositions,
    options: &Options,
) -> Result<FieldTrend, InferenceError> {
    let as_randomised = crate::analyse(experiment, options)?;
    let fixed = Fixed::of(experiment)?;
    let places = positions.of_used(experiment, &fixed.plots)?;
    let candidates = candidates(&fixed.partitions, &places);
    let Compared { models, chosen, fit, tests, tables, notices } =
        compare(&fixed, candidates, Rule::FirstUnlessBetter, options)?;
    let (lead, why) = lead(&models, fixed.plots.count());
    let plots = on_field(positions, &fixed.plots.index, experiment, &chosen);
    Ok(FieldTrend { as_randomised, models, lead, why, tests, tables, plots, notices, fit: Some(Box::new(fit)) })
}

fn on_field(
    positions: &FieldPositions,
    used: &[usize],
    experiment: &Experiment,
    chosen: &CorrelatedAnalysis,
) -> Vec<PlotOnField> {
    let has_residual = chosen.model.parts.iter().any(|it| it.name == crate::correlated_errors::RESIDUAL);
    let of = |(index, &plot): (usize, &usize)| {
        let of_plot = &chosen.observations[index];
        let others: f64 = chosen.effects.iter().map(|part| part.effects[index]).sum();
        let (ground, residual) =
            if has_residual { (others, of_plot.residual) } else { (others + of_plot.residual, 0.0) };
        PlotOnField {
            plot,
            range: positions.range[plot],
            pass: positions.pass[plot],
            value: experiment.response[plot].unwrap_or(f64::NAN),
            ground,
            residual,
            studentised: of_plot.studentised,
        }
    };
    used.iter().enumerate().map(of).collect()
}

impl FieldTrend {
    /// Any linear comparison of treatment means by the chosen model; `weights` as for [`Analysis::contrast`].
    ///
    /// # Errors
    /// As [`Analysis::contrast`].
    pub fn contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        self.fit()?.contrast(weights)
    }

    /// Several comparisons at once by the chosen model.
    ///
    /// # Errors
    /// As [`Analysis::contrast`].
    pub fn f_test(&self, comparisons: &[Vec<f64>]) -> Result<FTest, InferenceError> {
        self.fit()?.f_test(comparisons)
    }

    /// The same comparison by the analysis that leads.
    ///
    /// # Errors
    /// As [`Analysis::contrast`].
    pub fn leading_contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        match self.lead {
            FieldLead::AsRandomised => self.as_randomised.contrast(weights),
            FieldLead::Model => self.contrast(weights),
        }
    }

    fn fit(&self) -> Result<&Fit, InferenceError> {
        self.fit.as_deref().ok_or(InferenceError::FitNotKept)
    }
}
