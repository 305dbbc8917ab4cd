//! The models fitted side by side.

use super::choice::choose;
use super::{Fixed, Rule};
use crate::correlated_errors::{CorrelatedAnalysis, CorrelatedFit, Edge, FixedPart, Part, fit_fixed};
use crate::fit::{Fit, MarginErrors};
use crate::means::Spread;
use crate::parallel::in_order;
use crate::terms::Margin;
use crate::{InferenceError, MeansTable, Notice, Options, TermTest};
use serde::{Deserialize, Serialize};
use std::num::NonZero;

/// A model before it is fitted.
pub(crate) struct Candidate {
    pub name: String,
    pub describes: String,
    pub parts: Vec<Part>,
}

/// Models of the errors, fitted side by side, with the choice among them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ErrorModels {
    /// How they are compared, in words.
    pub criterion: String,
    /// The models, the plainest first.
    pub models: Vec<ErrorModel>,
    /// Index of the one that the criterion chooses.
    pub chosen: usize,
    /// Why, in words.
    pub reason: String,
}

/// One model of the errors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ErrorModel {
    /// Short name, the same in every trial.
    pub name: String,
    /// What it says, in words.
    pub describes: String,
    /// Its variances and correlations with likelihood and criterion; none when it could not be fitted.
    pub fitted: Option<CorrelatedFit>,
    /// Its criterion minus the smallest of all models.
    pub behind: Option<f64>,
    /// Tests of all fixed terms by it (Kenward and Roger).
    pub tests: Vec<TermTest>,
    /// Smallest, mean and largest standard error of a difference between treatments (Kenward and Roger), over all pairs.
    pub sed: Option<Spread>,
    /// Where its likelihood has its maximum at an edge, in words.
    pub edges: Vec<String>,
    /// Why it could not be fitted.
    pub why_not: Option<String>,
}

/// The models with what further work needs.
pub(crate) struct Compared {
    pub models: ErrorModels,
    pub chosen: CorrelatedAnalysis,
    pub fit: Fit,
    pub tests: Vec<TermTest>,
    pub tables: Vec<MeansTable>,
    pub notices: Vec<Notice>,
}

/// Fits all candidates, on as many threads as there are processors, and chooses. The result is the same for any number.
///
/// # Errors
/// The first candidate's, when none can be fitted.
pub(crate) fn compare(
    fixed: &Fixed,
    candidates: Vec<Candidate>,
    rule: Rule,
    options: &Options,
) -> Result<Compared, InferenceError> {
    let part = fixed.part()?;
    let mut fits: Vec<Result<CorrelatedAnalysis, InferenceError>> = Vec::new();
    let processors = std::thread::available_parallelism().map_or(1, NonZero::get);
    in_order(processors, candidates.iter().collect(), |it| fit_fixed(&part, it.parts.clone()), |fit| fits.push(fit));
    let unknown = unknown(fixed, &part, fits.first());
    let fit = |analysis: &CorrelatedAnalysis| Fit {
        unknown: unknown.clone(),
        ..analysis.with_estimates(Fit::of_cells(&fixed.plots))
    };
    let mut models: Vec<ErrorModel> =
        candidates.iter().zip(&fits).map(|(candidate, analysis)| described(candidate, analysis, &fit, fixed)).collect();
    let aic = |it: &ErrorModel| it.fitted.as_ref().map(|it| it.aic);
    let smallest = models.iter().filter_map(aic).fold(f64::INFINITY, f64::min);
    models.iter_mut().for_each(|it| it.behind = aic(it).map(|aic| aic - smallest));
    let taken = choose(&models, rule);
    let chosen = fits.swap_remove(taken.as_ref().map_or(0, |it| it.0))?;
    let (index, reason) = taken.unwrap_or_default();
    let fit = fit(&chosen);
    let by_model = crate::analysis::mixed_tests(&fit, &fixed.terms, &fixed.plots);
    let (tables, of_tables) = crate::means::tables(&fixed.terms, &fixed.plots, &fit, options);
    let notices = fixed.notices.iter().cloned().chain(by_model.notices).chain(of_tables).collect();
    let models = ErrorModels { criterion: rule.criterion(), models, chosen: index, reason };
    Ok(Compared { models, chosen, fit, tests: by_model.tests, tables, notices })
}

/// Strata of the first model that cannot be told from the means: what is compared between their units has no error.
fn unknown(
    fixed: &Fixed,
    part: &FixedPart,
    first: Option<&Result<CorrelatedAnalysis, InferenceError>>,
) -> Vec<(String, crate::matrix::Matrix)> {
    let Some(Ok(first)) = first else { return Vec::new() };
    let is_left_out =
        |name: &str| first.model.edges.iter().any(|edge| matches!(edge, Edge::NotToldApart { part } if part == name));
    let left_out = fixed.partitions.iter().filter(|it| is_left_out(&it.name));
    debug_assert_eq!(part.parameters(), fixed.plots.parameters(), "one cell, one parameter");
    left_out.map(|it| (it.name.clone(), crate::mixed::direct_share(&fixed.plots, it))).collect()
}

fn described(
    candidate: &Candidate,
    analysis: &Result<CorrelatedAnalysis, InferenceError>,
    fit: &impl Fn(&CorrelatedAnalysis) -> Fit,
    fixed: &Fixed,
) -> ErrorModel {
    let (name, describes) = (candidate.name.clone(), candidate.describes.clone());
    let behind = None;
    match analysis {
        Ok(analysis) => {
            let fit = fit(analysis);
            let tests = crate::analysis::mixed_tests(&fit, &fixed.terms, &fixed.plots).tests;
            let edges = analysis.model.edges.iter().map(Edge::sentence).collect();
            let (fitted, sed) = (Some(analysis.model.clone()), Some(sed(fixed, &fit)));
            ErrorModel { name, describes, fitted, behind, tests, sed, edges, why_not: None }
        }
        Err(error) => {
            let (edges, why_not) = (Vec::new(), Some(error.to_string()));
            ErrorModel { name, describes, fitted: None, behind, tests: Vec::new(), sed: None, edges, why_not }
        }
    }
}

/// Over all pairs of treatments that have values, each averaged over the places and occasions.
fn sed(fixed: &Fixed, fit: &Fit) -> Spread {
    let cells = &fixed.plots.cells;
    let margin = |treatment: usize| Margin {
        levels: vec![cells.treatments[treatment].label.clone()],
        members: cells.of_fixed_treatment(treatment).collect(),
    };
    let margins: Vec<Margin> = (0..cells.treatments.len()).map(margin).filter(|it| it.is_estimable(cells)).collect();
    let errors = MarginErrors::of(fit, &margins);
    let pairs = (0..margins.len()).flat_map(|a| (0..a).map(move |b| (a, b)));
    let known: Vec<f64> = pairs.filter_map(|(a, b)| errors.difference(a, b)).map(|it| it.se).collect();
    Spread::of(known.into_iter())
}
