//! The fitted model.

use super::cumulative::Cumulative;
use super::edge::{self, Sorted};
use super::means::ScoreState;
use super::model::{OrdinalModel, ScoreLink};
use crate::fit::Fit;
use crate::generalised::{
    ColumnSlope, Columns, FittedLikelihood, FixedColumn, UnitEffects, UnitVariance, check_columns, check_count,
    check_groupings, check_length, check_lengths, fixed_means, on, separate, unit_effects, unit_variances,
};
use crate::laplace::{Failure, Maximum, Problem, maximise, restrict};
use crate::matrix::Matrix;
use crate::{Evidence, InferenceError, Notice};
use serde::{Deserialize, Serialize};

/// Scores, fitted by maximum likelihood.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct OrdinalFit {
    /// The hidden scale.
    pub link: ScoreLink,
    /// Which likelihood the variances make largest.
    pub likelihood: FittedLikelihood,
    /// Logarithm of that likelihood of the things scored, each on its own (no count of their orders); Laplace's approximation
    /// (exact for the ordinary likelihood where there are no groupings). A restricted one may be compared only between fits with
    /// the same fixed part.
    pub log_likelihood: f64,
    /// Number of parameters estimated: means, slopes, variances, thresholds but the first.
    pub parameters: usize,
    /// Where the hidden scale is cut.
    pub thresholds: Vec<Threshold>,
    /// Variances of the groupings in the model, in the order given.
    pub components: Vec<UnitVariance>,
    /// Slopes of the columns of the fixed part.
    pub columns: Vec<ColumnSlope>,
    /// One entry per row, in the order given.
    pub observations: Vec<FittedScore>,
    /// Most likely effects of the units, one entry per grouping in the model.
    pub units: Vec<UnitEffects>,
    /// How the search went.
    pub evidence: Evidence,
    /// What a reader must know.
    pub notices: Vec<Notice>,
    #[serde(skip)]
    kept: Option<Kept>,
}

/// A cut of the hidden scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Threshold {
    /// The score below it.
    pub below: String,
    /// The score above it.
    pub above: String,
    /// Where it lies; the first is zero, so that a mean is the logit (or normal deviate) of the share above the lowest score.
    pub at: f64,
    /// Its standard error; none for the first.
    pub se: Option<f64>,
}

/// One row with what the model makes of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct FittedScore {
    /// Index of the score.
    pub score: usize,
    /// How many have it.
    pub count: f64,
    /// Place on the hidden scale, units' effects included; none for treatments at an end and rows of none.
    pub predictor: Option<f64>,
    /// Chance of a lower score less that of a higher, between -1 and 1; averages zero over all things scored when the model
    /// holds (Li & Shepherd 2012, Biometrika 99:473-480, from memory).
    pub residual: Option<f64>,
}

/// What further work needs and a file does not hold.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Kept {
    pub on_link: Fit,
    pub states: Vec<ScoreState>,
    /// Counts of every treatment in every score of the model as given.
    pub counts: Vec<Vec<f64>>,
    pub labels: Vec<String>,
    pub treatment: Vec<usize>,
    pub columns: Vec<FixedColumn>,
    /// Index of each score of the fit among those given.
    pub scores: Vec<usize>,
    /// Means of the treatments present, then all thresholds.
    pub covariance: Matrix,
}

/// Fits proportional odds (or the normal counterpart) with random units by maximum likelihood.
///
/// The integral over the units' effects is Laplace's approximation, maximised with exact first and second derivatives jointly in
/// means, slopes, standard deviations and thresholds.
///
/// # Errors
/// [`InferenceError::UnknownScore`] and what else cannot be scores; [`InferenceError::OneScore`] when nothing differs;
/// [`InferenceError::ScoreNotCrossed`] when low and high treatments meet in one score at most;
/// [`InferenceError::ScoresForetold`], [`InferenceError::OneScorePerUnit`], [`InferenceError::CollinearColumn`],
/// [`InferenceError::VariancesNotSeparable`], [`InferenceError::NotConverged`].
/// # Source
/// McCullagh (1980), JRSS B 42:109-142. Checked against R's MASS and ordinal in `tests/generalised/scores.rs`.
/// # Example
/// ```
/// use guardrow_inference::generalised::Grouping;
/// use guardrow_inference::ordinal::{OrdinalModel, ScoreLink, fit};
///
/// let model = OrdinalModel {
///     scores: vec!["none".into(), "some".into(), "severe".into()],
///     score: vec![0, 1, 1, 2, 0, 1, 0, 2, 2, 1, 1, 0],
///     count: vec![1.0; 12],
///     link: ScoreLink::Logit,
///     treatments: vec!["early".into(), "late".into()],
///     treatment: vec![0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1],
///     columns: Vec::new(),
///     groupings: vec![Grouping { name: "block".into(), class: vec![0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2], classes: 3 }],
/// };
/// let fitted = fit(&model).unwrap();
/// let log_odds_ratio = fitted.contrast(&[-1.0, 1.0]).unwrap();
/// assert!(log_odds_ratio.estimate > 0.0);
/// let means = fitted.means(0.05).unwrap();
/// assert!(means[1].shares[2].share > means[0].shares[2].share);
/// ```
pub fn fit(model: &OrdinalModel) -> Result<OrdinalFit, InferenceError> {
    fit_with(model, FittedLikelihood::Full)
}

/// Fits the same model with variances by a restricted likelihood, as [`crate::generalised::fit_restricted`] does for counts.
/// Thresholds are not integrated out: they are those that make each likelihood largest.
///
/// # Errors
/// As [`fit`].
/// # Source
/// As there; checked against the model written out for R's TMB in `tests/generalised/scores.rs`.
pub fn fit_restricted(model: &OrdinalModel) -> Result<OrdinalFit, InferenceError> {
    fit_with(model, FittedLikelihood::Restricted)
}

fn fit_with(model: &OrdinalModel, by: FittedLikelihood) -> Result<OrdinalFit, InferenceError> {
    check(model)?;
    let sorted = edge::sort(model)?;
    let used = &sorted.used;
    let treatment: Vec<usize> = used.iter().map(|&i| sorted.present[model.treatment[i]].expect("used")).collect();
    let columns = Columns::of(&model.columns, used);
    let groupings: Vec<_> = model.groupings.iter().map(|it| on(it, used)).collect();
    let mut separate = separate(&groupings, &treatment, &columns.given, false)?;
    let names: Vec<&str> = separate.kept.iter().map(|&index| model.groupings[index].name.as_str()).collect();

    let start = starts(model, &sorted);
    let (thresholds, first) = start.split_at(start.len() - 1);
    let place = |score: usize| sorted.scores.binary_search(&score).expect("occurs");
    let score: Vec<usize> = used.iter().map(|&i| place(model.score[i])).collect();
    let count = used.iter().map(|&i| model.count[i]).collect();
    let likelihood = Cumulative::new(score, count, model.link, thresholds.to_vec());
    let mut problem = Problem::new(likelihood, treatment, &columns.scaled, vec![0.0; used.len()], &separate.units);
    let mut fixed = vec![first[0]; problem.treatments];
    fixed.resize(problem.fixed(), 0.0);
    let foretold = |row: usize| {
        let row = used[row];
        InferenceError::ScoresForetold { treatment: model.treatments[model.treatment[row]].clone(), row }
    };
    let named = |failure: Failure| match failure.named(used.len(), foretold, &names) {
        InferenceError::AllOrNothing { stratum } => InferenceError::OneScorePerUnit { stratum },
        error => error,
    };
    let maximum = maximise(&mut problem, &fixed, &thresholds[1..]).map_err(named)?;
    let (maximum, log_likelihood) = match by {
        FittedLikelihood::Full => {
            let log_likelihood = maximum.mode.log_likelihood;
            (maximum, log_likelihood)
        }
        FittedLikelihood::Restricted => {
            let (maximum, log_likelihood) = restrict(&mut problem, &separate.units, &maximum).map_err(named)?;
            (maximum, log_likelihood - columns.log_scale())
        }
    };

    let components = unit_variances(&problem, &maximum, &names);
    let mut notices = sorted.notices(model);
    notices.append(&mut separate.notices);
    notices.extend(
        components.iter().filter(|it| it.at_zero).map(|it| Notice::VarianceAtZero { stratum: it.name.clone() }),
    );
    let mut on_link = fixed_means(
        sorted.present.clone(),
        model.treatments.clone(),
        &maximum.mode.parameters[..problem.fixed()],
        &maximum.covariance,
    );
    on_link.unknown = std::mem::take(&mut separate.unknown);
    let ends = sorted.states.iter().filter(|state| state.is_end()).count();
    Ok(OrdinalFit {
        link: model.link,
        likelihood: by,
        log_likelihood,
        parameters: problem.parameters() + ends + sorted.given - sorted.scores.len(),
        thresholds: thresholds_of(&problem, &maximum, &sorted, model),
        columns: columns.slopes(&model.columns, problem.treatments, &maximum),
        observations: observations(model, &sorted, &problem, &maximum),
        units: unit_effects(&problem, &maximum, &names),
        evidence: maximum.evidence.clone(),
        components,
        notices,
        kept: Some(Kept {
            on_link,
            states: sorted.states.clone(),
            counts: edge::counts(model),
            labels: model.scores.clone(),
            treatment: model.treatment.clone(),
            columns: model.columns.clone(),
            scores: sorted.scores.clone(),
            covariance: means_and_thresholds(&problem, &maximum),
        }),
    })
}

pub(super) fn check(model: &OrdinalModel) -> Result<(), InferenceError> {
    let rows = model.score.len();
    check_lengths(rows, &model.treatments, &model.treatment)?;
    check_length("the list of counts", model.count.len(), rows)?;
    let scores = model.scores.len();
    if let Some((row, &score)) = model.score.iter().enumerate().find(|&(_, &score)| score >= scores) {
        return Err(InferenceError::UnknownScore { row, score, scores });
    }
    model.count.iter().enumerate().try_for_each(|(row, &count)| check_count("count", row, count))?;
    check_columns(rows, &model.columns)?;
    check_groupings(rows, &model.groupings)
}

/// All thresholds from the shares of all things scored, and the place on the scale that goes with them.
fn starts(model: &OrdinalModel, sorted: &Sorted) -> Vec<f64> {
    let mut counts = vec![0.0; model.scores.len()];
    sorted.used.iter().for_each(|&i| counts[model.score[i]] += model.count[i]);
    let total: f64 = counts.iter().sum();
    let mut below = 0.0;
    let cuts: Vec<f64> = sorted.scores[..sorted.scores.len() - 1]
        .iter()
        .map(|&score| {
            below += counts[score];
            model.link.link().of(below / total)
        })
        .collect();
    cuts.iter().map(|cut| cut - cuts[0]).chain([-cuts[0]]).collect()
}

fn thresholds_of(
    problem: &Problem<Cumulative>,
    maximum: &Maximum,
    sorted: &Sorted,
    model: &OrdinalModel,
) -> Vec<Threshold> {
    let label = |score: usize| model.scores[sorted.scores[score]].clone();
    let of = |index: usize| {
        let at = (index > 0).then(|| problem.extras_range().start + index - 1);
        Threshold {
            below: label(index),
            above: label(index + 1),
            at: at.map_or(0.0, |at| maximum.mode.parameters[at]),
            se: at.map(|at| maximum.covariance[(at, at)].sqrt()),
        }
    };
    (0..sorted.scores.len() - 1).map(of).collect()
}

/// Covariance of the means of the treatments present and all thresholds, the first without any.
fn means_and_thresholds(problem: &Problem<Cumulative>, maximum: &Maximum) -> Matrix {
    let parameters: Vec<Option<usize>> =
        (0..problem.treatments).map(Some).chain([None]).chain(problem.extras_range().map(Some)).collect();
    let mut covariance = Matrix::zeros(parameters.len(), parameters.len());
    for (row, m) in parameters.iter().enumerate() {
        for (column, n) in parameters.iter().enumerate() {
            covariance[(row, column)] = m.zip(*n).map_or(0.0, |at| maximum.covariance[at]);
        }
    }
    covariance
}

fn observations(
    model: &OrdinalModel,
    sorted: &Sorted,
    problem: &Problem<Cumulative>,
    maximum: &Maximum,
) -> Vec<FittedScore> {
    let thresholds: Vec<f64> =
        std::iter::once(0.0).chain(maximum.mode.parameters[problem.extras_range()].iter().copied()).collect();
    let rows = model.score.iter().zip(&model.count);
    let mut all: Vec<FittedScore> =
        rows.map(|(&score, &count)| FittedScore { score, count, predictor: None, residual: None }).collect();
    for (&i, &eta) in sorted.used.iter().zip(&maximum.mode.predictor) {
        let place = sorted.scores.binary_search(&model.score[i]).expect("occurs");
        let link = model.link.link();
        let lower = if place == 0 { 0.0 } else { link.natural(thresholds[place - 1] - eta) };
        let higher = thresholds.get(place).map_or(0.0, |threshold| link.natural(eta - threshold));
        (all[i].predictor, all[i].residual) = (Some(eta), Some(lower - higher));
    }
    all
}

impl OrdinalFit {
    pub(crate) fn kept(&self) -> Result<&Kept, InferenceError> {
        self.kept.as_ref().ok_or(InferenceError::FitNotKept)
    }
}
