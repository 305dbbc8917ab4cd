//! A residual variance for each place or season, beside one for all.
//!
//! Plots vary more at some sites and in some years than in others. With one variance for all, the noisy places count for too much, and differences within them
//! look surer than they are.
//!
//! Source: residual variances by environment in series of trials: Frensham, Cullis & Verbyla (1997), Biometrics 53:1373-1383 (from memory). Checked
//! against nlme in `tests/errors_by_environment/`.

use crate::correlated_errors::{Groups, Part};
use crate::error_models::{Candidate, Compared, ErrorModels, Fixed, Rule, compare, strata_parts};
use crate::fit::Fit;
use crate::model::{EnvironmentStratum, levels};
use crate::{Analysis, Estimate, Experiment, InferenceError, MeansTable, Notice, Options, TermTest};
use serde::{Deserialize, Serialize};

/// The analysis with one residual variance, and beside it those with a variance for each place or season.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ErrorsByEnvironment {
    /// The analysis with one variance for all plots: what [`crate::analyse`] says of the same experiment.
    pub with_one_variance: Analysis,
    /// All models of the plots' variances, with the choice.
    pub models: ErrorModels,
    /// Tests of all fixed terms by the chosen model (Kenward and Roger).
    pub tests: Vec<TermTest>,
    /// Means of every fixed term by the chosen model, with all differences.
    pub tables: Vec<MeansTable>,
    /// What a reader of the chosen model must know.
    pub notices: Vec<Notice>,
    #[serde(skip)]
    fit: Option<Box<Fit>>,
}

/// Analyses a trial at several places or in several seasons with a residual variance for each of them.
///
/// One model has one variance for all plots; one for each kind of place and season that was met (site, year, site x year) has a variance for each of them.
/// They are compared by Akaike's criterion on the restricted likelihood. Everything else is as in [`crate::analyse`], the stated scope included.
///
/// # Errors
/// [`InferenceError`] as [`crate::analyse`]; [`InferenceError::OneTreatment`] and the like of the whole trial; when only one place was met
/// ([`InferenceError::Setting`]).
pub fn errors_by_environment(
    experiment: &Experiment,
    options: &Options,
) -> Result<ErrorsByEnvironment, InferenceError> {
    let with_one_variance = crate::analyse(experiment, options)?;
    let fixed = Fixed::of(experiment)?;
    if fixed.plots.environments.is_empty() {
        let (what, expected) = ("the number of places and seasons".to_owned(), "at least 2".to_owned());
        return Err(InferenceError::Setting { what, value: 1.0, expected });
    }
    let strata = strata_parts(&fixed.partitions[..fixed.partitions.len() - 1]);
    let with = |name: String, describes: String, residual: Part| {
        let parts = strata.iter().cloned().chain([residual]).collect();
        Candidate { name, describes, parts }
    };
    let one = "Plots vary alike at all places and in all seasons.".to_owned();
    let mut candidates = vec![with("one variance".into(), one, Part::residual())];
    candidates.extend(fixed.plots.environments.iter().map(|place| {
        let describes = format!("Plots have a variance of their own in each {}.", place.name);
        let residual = Part::residual().with_variances_by(groups(experiment, &fixed, place));
        with(format!("a variance of each {}", place.name), describes, residual)
    }));
    let Compared { models, fit, tests, tables, notices, .. } =
        compare(&fixed, candidates, Rule::FirstUnlessBetter, options)?;
    Ok(ErrorsByEnvironment { with_one_variance, models, tests, tables, notices, fit: Some(Box::new(fit)) })
}

fn groups(experiment: &Experiment, fixed: &Fixed, place: &EnvironmentStratum) -> Groups {
    let labels = levels(experiment, &fixed.plots.index, place).into_iter().map(|it| it.join(", ")).collect();
    Groups { labels, group: place.division.class.clone() }
}

impl ErrorsByEnvironment {
    /// Any linear comparison of treatment means by the chosen model; `weights` as for [`Analysis::contrast`].
    ///
    /// # Errors
    /// As [`Analysis::contrast`].
    pub fn contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        self.fit.as_deref().ok_or(InferenceError::FitNotKept)?.contrast(weights)
    }
}
