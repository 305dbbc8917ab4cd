//! From an experiment and its occasions to the analysis of the season.

use super::alone::{each_alone, season_mean};
use super::candidates::candidates;
use super::over_time::ByOccasion;
use super::{OccasionAlone, Occasions, OverTime, SeasonMean};
use crate::error_models::{Compared, ErrorModels, Fixed, Rule, compare};
use crate::fit::Fit;
use crate::{Estimate, Experiment, InferenceError, MeansTable, Notice, Options, SimpleEffect, TermTest};
use serde::{Deserialize, Serialize};

/// One measure over the season.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Repeated {
    /// Each occasion by itself, as randomised: holds whatever the errors of a plot over time are like.
    pub by_occasion: Vec<OccasionAlone>,
    /// The mean of each plot over all occasions, as randomised: likewise.
    pub season_mean: SeasonMean,
    /// All models of the plots' errors over time, with the choice.
    pub models: ErrorModels,
    /// Tests of occasions, treatments and their interaction by the chosen model (Kenward and Roger).
    pub tests: Vec<TermTest>,
    /// Means of every term by the chosen model, with all differences.
    pub tables: Vec<MeansTable>,
    /// Treatments compared within each occasion by the chosen model.
    pub within_occasions: Vec<SimpleEffect>,
    /// How treatments go through the season by the chosen model.
    pub over_time: OverTime,
    /// What the chosen model says of every value.
    pub plots: Vec<PlotOnOccasion>,
    /// What a reader must know.
    pub notices: Vec<Notice>,
    #[serde(skip)]
    fit: Option<Box<Fit>>,
}

/// One value by the chosen model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PlotOnOccasion {
    /// Index of the plot in the experiment.
    pub plot: usize,
    /// Index of the occasion.
    pub occasion: usize,
    /// The value.
    pub value: f64,
    /// Mean of its treatment on the occasion plus predicted effects of its units.
    pub fitted: f64,
    /// Value minus what the means and all other values say of it, over the standard error of that.
    pub studentised: f64,
}

/// Analyses a measure that was taken on the same plots at several occasions.
///
/// Occasions cross treatments and units. Seven models of a plot's errors over time (six with two occasions) are compared by Akaike's criterion on the
/// restricted likelihood: independent, compound symmetry, serial (autoregression where occasions are equally far apart, else decay over days), serial
/// with independent errors, and the first three with a variance of each occasion.
///
/// - `experiment`: the plots once each; its `response` is not looked at
/// - `occasions`: the values, with labels and days
///
/// # Errors
/// [`InferenceError`] as [`crate::analyse`]; when occasions do not fit the plots or are not in order, when no plot was visited twice, or when the trial is to
/// speak of places like its own.
/// # Source
/// See `candidates.rs` for the models and `error_models/choice.rs` for the criterion; checked against nlme in `tests/repeated/`.
/// # Example
/// ```
/// use guardrow_design::{BlockStructure, Factor, Level, Scale, TreatmentStructure};
/// use guardrow_inference::{Experiment, Occasions, Options, Visit, repeated};
/// let level = |label: &str| Level { label: label.into(), amount: None };
/// let cover = Factor { name: "cover".into(), scale: Scale::Qualitative, levels: vec![level("bare"), level("mulch")] };
/// let trial = Experiment::new(
///     BlockStructure::unit("block").nest(BlockStructure::unit("plot")),
///     vec![("block".into(), vec![1, 1, 2, 2, 3, 3])],
///     TreatmentStructure { factors: vec![cover], controls: Vec::new() },
///     vec![0, 1, 1, 0, 0, 1],
///     vec![None; 6],
/// );
/// let visit = |label: &str, day: f64, values: [f64; 6]| Visit {
///     label: label.into(), day: Some(day), response: values.map(Some).to_vec(),
/// };
/// let moisture = Occasions::new(vec![
///     visit("sown", 0.0, [21.0, 22.1, 23.2, 21.8, 20.7, 21.5]),
///     visit("emerged", 12.0, [17.9, 20.3, 21.1, 18.8, 17.2, 20.0]),
///     visit("tillering", 40.0, [12.1, 15.9, 16.8, 13.0, 11.6, 15.2]),
/// ]);
/// let result = repeated(&trial, &moisture, &Options::default())?;
/// assert_eq!(result.within_occasions.len(), 3);
/// # Ok::<(), guardrow_inference::InferenceError>(())
/// ```
pub fn repeated(experiment: &Experiment, occasions: &Occasions, options: &Options) -> Result<Repeated, InferenceError> {
    options.check()?;
    let crossed = occasions.crossed_with(experiment)?;
    let fixed = Fixed::of(&crossed)?;
    let candidates = candidates(experiment, &fixed, occasions)?;
    let Compared { models, chosen, fit, tests, tables, notices } =
        compare(&fixed, candidates, Rule::Smallest, options)?;
    let plots = experiment.treatment.len();
    let by_occasion = ByOccasion::of(&fixed, plots);
    let of_row = |(index, &row): (usize, &usize)| {
        let found = &chosen.observations[index];
        let (plot, occasion) = (row % plots, row / plots);
        let value = found.fitted + found.residual;
        PlotOnOccasion { plot, occasion, value, fitted: found.fitted, studentised: found.studentised }
    };
    Ok(Repeated {
        by_occasion: each_alone(experiment, occasions, options),
        season_mean: season_mean(experiment, occasions, options),
        tests,
        tables,
        within_occasions: by_occasion.differences(&fixed, &fit, occasions, options.level),
        over_time: by_occasion.over_time(&fit, occasions),
        plots: fixed.plots.index.iter().enumerate().map(of_row).collect(),
        notices,
        models,
        fit: Some(Box::new(fit)),
    })
}

impl Repeated {
    /// Any comparison of treatment means over the season by the chosen model, occasions equally weighted.
    ///
    /// # Errors
    /// As [`crate::Analysis::contrast`].
    pub fn contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        self.fit.as_deref().ok_or(InferenceError::FitNotKept)?.contrast(weights)
    }
}
