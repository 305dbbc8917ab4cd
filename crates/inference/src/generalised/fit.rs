//! The fitted model.

use super::binomial::Binomial;
use super::check::check;
use super::counts::{NegativeBinomial, Poisson};
use super::edge::{self, Observations};
use super::groupings::{SeparateGroupings, separate};
use super::link::{Link, ProportionLink};
use super::means::{ColumnSlope, TreatmentState, fixed_means};
use super::model::{CountSpread, FixedColumn, GeneralisedModel, Observed};
use super::overdispersion::{self, Overdispersion};
use super::quadrature::Quadrature;
use super::residuals::{self, FittedObservation};
use crate::fit::Fit;
use crate::laplace::{Likelihood, Maximum, Problem, Refined, maximise, refine, restrict};
use crate::{Evidence, InferenceError, Notice};
use serde::{Deserialize, Serialize};

/// Counts or proportions, fitted by [`fit()`] or [`fit_restricted`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct GeneralisedFit {
    /// The scale on which treatments add.
    pub link: Link,
    /// Which likelihood the variances make largest.
    pub likelihood: FittedLikelihood,
    /// Logarithm of that likelihood, constants included: Laplace's approximation (exact for the ordinary likelihood where there are
    /// no groupings). A restricted one is an integral over means and slopes in the units of the link and of the columns, so that
    /// it may be compared only between fits with the same fixed part.
    pub log_likelihood: f64,
    /// Number of parameters estimated: means, slopes, variances, spread.
    pub parameters: usize,
    /// Variances of the groupings in the model, in the order given.
    pub components: Vec<UnitVariance>,
    /// The spread of negative binomial counts.
    pub negative_binomial: Option<NegativeBinomialSpread>,
    /// Slopes of the columns of the fixed part.
    pub columns: Vec<ColumnSlope>,
    /// Whether the observations vary more than the model says.
    pub overdispersion: Overdispersion,
    /// One entry per observation, in the order given.
    pub observations: Vec<FittedObservation>,
    /// Most likely effects of the units, one entry per grouping in the model.
    pub units: Vec<UnitEffects>,
    /// How the search went.
    pub evidence: Evidence,
    /// What a reader must know.
    pub notices: Vec<Notice>,
    #[serde(skip)]
    kept: Option<Kept>,
}

/// Which likelihood the variances of the units make largest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FittedLikelihood {
    /// Of means and variances together.
    Full,
    /// Of the variances alone, the means integrated out.
    Restricted,
}

/// The variance of one grouping's units, on the link's scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct UnitVariance {
    /// Name of the grouping.
    pub name: String,
    /// Variance of the units' effects.
    pub variance: f64,
    /// Its root.
    pub sd: f64,
    /// Standard error of `sd` from the curvature of the likelihood; none at zero.
    pub sd_se: Option<f64>,
    /// Whether the likelihood is largest at zero, the edge of what is possible.
    pub at_zero: bool,
}

/// The spread of negative binomial counts: variance `mu + mu^2 / theta`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct NegativeBinomialSpread {
    /// `theta`; none when the counts vary no more than Poisson counts do, where it is infinite.
    pub theta: Option<f64>,
    /// Its standard error.
    pub theta_se: Option<f64>,
}

/// Effects of the units of one grouping, on the link's scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct UnitEffects {
    /// Name of the grouping.
    pub name: String,
    /// Most likely effect of every unit, given the estimates.
    pub effect: Vec<f64>,
    /// Standard deviation of each, given the estimates.
    pub sd: Vec<f64>,
}

/// What further work needs and a file does not hold.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Kept {
    pub on_link: Fit,
    pub states: Vec<TreatmentState>,
    pub observed: Observed,
    pub treatment: Vec<usize>,
    pub columns: Vec<FixedColumn>,
    pub offset: Option<Vec<f64>>,
}

/// Fits a generalised linear mixed model by maximum likelihood.
///
/// The integral over the units' effects is Laplace's approximation; its maximum is found with exact first and second
/// derivatives, jointly in means, slopes, variances and spread, and the covariance of the means is taken from the inverse of
/// the whole curvature, so that it allows for the variances having been estimated together with them.
///
/// # Errors
/// What cannot be counts or proportions is named with its observation; [`InferenceError::NothingCounted`] and
/// [`InferenceError::EverythingCounted`] when no treatment has a mean on the link's scale; [`InferenceError::Separated`],
/// [`InferenceError::CollinearColumn`], [`InferenceError::VariancesNotSeparable`], [`InferenceError::NotConverged`].
/// # Source
/// Breslow & Clayton (1993), JASA 88:9-25. Checked against lme4 and glmmTMB in `tests/generalised`.
/// # Example
/// ```
/// use guardrow_inference::generalised::{GeneralisedModel, Grouping, Observed, ProportionLink, fit};
///
/// let model = GeneralisedModel {
///     observed: Observed::Proportions {
///         successes: vec![31.0, 38.0, 27.0, 41.0, 22.0, 40.0],
///         trials: vec![50.0; 6],
///         link: ProportionLink::Logit,
///     },
///     treatments: vec!["early".into(), "late".into()],
///     treatment: vec![0, 1, 0, 1, 0, 1],
///     columns: Vec::new(),
///     offset: None,
///     groupings: vec![Grouping { name: "block".into(), class: vec![0, 0, 1, 1, 2, 2], classes: 3 }],
/// };
/// let fitted = fit(&model).unwrap();
/// let means = fitted.means(0.05).unwrap();
/// assert!((means[0].mean.unwrap() - 80.0 / 150.0).abs() < 0.01);
/// let log_odds_ratio = fitted.contrast(&[-1.0, 1.0]).unwrap();
/// assert!(log_odds_ratio.p() < 0.001);
/// ```
pub fn fit(model: &GeneralisedModel) -> Result<GeneralisedFit, InferenceError> {
    fit_with(model, None, FittedLikelihood::Full).map(|(fit, _)| fit)
}

/// Fits the same model with variances by a restricted likelihood, the counterpart of REML: maximum likelihood finds units too
/// much alike where there are few of them. Means and slopes are integrated out over a flat density, by one Laplace approximation
/// together with the units; the spread of negative binomial counts is found with the variances. Then the means are those of
/// largest likelihood at these variances, their covariance that of the curvature in means and slopes alone.
///
/// # Errors
/// As [`fit`].
/// # Source
/// Patterson & Thompson (1971), Biometrika 58:545-554, for the idea; in this form in R's glmmTMB with `REML = TRUE`, against which
/// it is checked in `tests/generalised/restricted.rs`.
pub fn fit_restricted(model: &GeneralisedModel) -> Result<GeneralisedFit, InferenceError> {
    fit_with(model, None, FittedLikelihood::Restricted).map(|(fit, _)| fit)
}

/// Fits the model; with `points` also by quadrature.
pub(crate) fn fit_with(
    model: &GeneralisedModel,
    points: Option<usize>,
    by: FittedLikelihood,
) -> Result<(GeneralisedFit, Option<Quadrature>), InferenceError> {
    check(model)?;
    let observations = edge::sort(model)?;
    let used = &observations.used;
    let pick = |values: &[f64]| -> Vec<f64> { used.iter().map(|&i| values[i]).collect() };
    match &model.observed {
        Observed::Proportions { successes, trials, link } => {
            let (successes, trials) = (pick(successes), pick(trials));
            let sees_plots = trials.iter().any(|&trials| trials > 1.0);
            let constant = (0..used.len()).map(|i| log_choose(trials[i], successes[i])).sum();
            let start = proportion_starts(&observations, model, &successes, &trials, *link);
            let likelihood = Binomial { successes, trials, link: *link };
            Fitting {
                model,
                observations: &observations,
                link: Link::Proportion(*link),
                sees_plots,
                constant,
                points,
                by,
            }
            .run(likelihood, start, Vec::new())
        }
        Observed::Counts { counts, spread } => {
            let counts = pick(counts);
            let constant = -counts.iter().map(|&y| libm::lgamma(y + 1.0)).sum::<f64>();
            let start = count_starts(&observations, model, &counts);
            let sees_plots = *spread == CountSpread::Poisson;
            let fitting =
                Fitting { model, observations: &observations, link: Link::Log, sees_plots, constant, points, by };
            match spread {
                CountSpread::Poisson => fitting.run(Poisson { counts }, start, Vec::new()),
                CountSpread::NegativeBinomial => fitting.run(NegativeBinomial::new(counts), start, vec![0.5]),
            }
        }
    }
}

/// The parts of a model that every kind of observation shares.
pub(crate) struct Fitting<'a> {
    model: &'a GeneralisedModel,
    observations: &'a Observations,
    link: Link,
    sees_plots: bool,
    constant: f64,
    points: Option<usize>,
    by: FittedLikelihood,
}

impl Fitting<'_> {
    fn run<L: Likelihood + Clone>(
        &self,
        likelihood: L,
        mut fixed: Vec<f64>,
        extras: Vec<f64>,
    ) -> Result<(GeneralisedFit, Option<Quadrature>), InferenceError> {
        let used = &self.observations.used;
        let treatment: Vec<usize> =
            used.iter().map(|&i| self.observations.present[self.model.treatment[i]].expect("used")).collect();
        let columns = Columns::of(&self.model.columns, used);
        let groupings: Vec<_> = self.model.groupings.iter().map(|it| on(it, used)).collect();
        let mut separate = separate(&groupings, &treatment, &columns.given, self.sees_plots)?;
        let offset = self
            .model
            .offset
            .as_ref()
            .map_or_else(|| vec![0.0; used.len()], |offset| used.iter().map(|&i| offset[i]).collect());
        let mut problem = Problem::new(likelihood, treatment, &columns.scaled, offset, &separate.units);
        fixed.resize(problem.fixed(), 0.0);
        let foretold = |observation: usize| {
            let plot = used[observation];
            let treatment = self.model.treatments[self.model.treatment[plot]].clone();
            InferenceError::Separated { treatment, plot }
        };
        let names: Vec<&str> = separate.kept.iter().map(|&index| self.model.groupings[index].name.as_str()).collect();
        let maximum =
            maximise(&mut problem, &fixed, &extras).map_err(|failure| failure.named(used.len(), foretold, &names))?;
        let (maximum, log_likelihood) = match self.by {
            FittedLikelihood::Full => {
                let log_likelihood = maximum.mode.log_likelihood;
                (maximum, log_likelihood)
            }
            FittedLikelihood::Restricted => {
                let (maximum, log_likelihood) = restrict(&mut problem, &separate.units, &maximum)
                    .map_err(|failure| failure.named(used.len(), foretold, &names))?;
                (maximum, log_likelihood - columns.log_scale())
            }
        };
        let fit = self.finished(&problem, &maximum, log_likelihood, &columns, &mut separate)?;
        let refined = self.points.and_then(|points| Some((points, refine(&mut problem, &maximum, points)?)));
        let quadrature = refined.map(|(points, refined)| self.quadrature(&problem, &maximum, points, &refined));
        Ok((fit, quadrature))
    }

    fn quadrature<L: Likelihood>(
        &self,
        problem: &Problem<L>,
        maximum: &Maximum,
        points: usize,
        refined: &Refined,
    ) -> Quadrature {
        let present = &self.observations.present;
        let shift =
            |m: usize| (refined.parameters[m] - maximum.mode.parameters[m]).abs() / maximum.covariance[(m, m)].sqrt();
        let sd = (0..problem.pattern.groupings)
            .map(|index| refined.parameters[problem.sd_range().start + problem.pattern.position_of(index)].abs());
        Quadrature {
            points,
            log_likelihood: refined.log_likelihood + self.constant,
            means: present.iter().map(|it| it.map(|treatment| refined.parameters[treatment])).collect(),
            sd: sd.collect(),
            largest_shift: (0..problem.treatments).map(shift).fold(0.0, f64::max),
        }
    }

    fn finished<L: Likelihood>(
        &self,
        problem: &Problem<L>,
        maximum: &Maximum,
        log_likelihood: f64,
        columns: &Columns,
        separate: &mut SeparateGroupings,
    ) -> Result<GeneralisedFit, InferenceError> {
        let model = self.model;
        let names: Vec<&str> = separate.kept.iter().map(|&index| model.groupings[index].name.as_str()).collect();
        let components = unit_variances(problem, maximum, &names);
        let spread = (problem.likelihood.extras() == 1).then(|| self.spread(problem, maximum));
        let alpha = spread.and_then(|it| it.theta).map_or(0.0, |theta| 1.0 / theta);
        let observations = residuals::of(model, self.observations, self.link, &maximum.mode.predictor, alpha);
        let variances = components.iter().filter(|it| !it.at_zero).count();
        let estimated = problem.fixed() + variances + usize::from(alpha > 0.0);
        let kept: Vec<&FittedObservation> = self.observations.used.iter().map(|&i| &observations[i]).collect();
        let plot_effect = separate.units.iter().any(|units| units.classes >= model.treatment.len());
        let overdispersion = overdispersion::of(&kept, estimated, plot_effect, spread.is_some());

        let mut notices = self.observations.notices(&model.treatments);
        notices.append(&mut separate.notices);
        notices.extend(
            components.iter().filter(|it| it.at_zero).map(|it| Notice::VarianceAtZero { stratum: it.name.clone() }),
        );
        if spread.is_some_and(|it| it.theta.is_none()) {
            notices.push(Notice::CountsVaryAsPoisson);
        }
        if overdispersion.df == 0.0 {
            notices.push(Notice::OnlyCountingError);
        }
        let edge_treatments = self.observations.states.iter().filter(|&&state| is_edge(state)).count();
        let fixed = &maximum.mode.parameters[..problem.fixed()];
        let mut on_link =
            fixed_means(self.observations.present.clone(), model.treatments.clone(), fixed, &maximum.covariance);
        on_link.unknown = std::mem::take(&mut separate.unknown);
        Ok(GeneralisedFit {
            link: self.link,
            likelihood: self.by,
            log_likelihood: log_likelihood + self.constant,
            parameters: problem.parameters() + edge_treatments,
            negative_binomial: spread,
            columns: columns.slopes(&model.columns, problem.treatments, maximum),
            overdispersion,
            observations,
            units: unit_effects(problem, maximum, &names),
            evidence: maximum.evidence.clone(),
            components,
            notices,
            kept: Some(Kept {
                on_link,
                states: self.observations.states.clone(),
                observed: model.observed.clone(),
                treatment: model.treatment.clone(),
                columns: model.columns.clone(),
                offset: model.offset.clone(),
            }),
        })
    }

    fn spread<L: Likelihood>(&self, problem: &Problem<L>, maximum: &Maximum) -> NegativeBinomialSpread {
        let at = problem.extras_range().start;
        let omega = maximum.mode.parameters[at];
        if omega == 0.0 {
            return NegativeBinomialSpread { theta: None, theta_se: None };
        }
        let se = maximum.covariance[(at, at)].sqrt();
        NegativeBinomialSpread { theta: Some(omega.powi(-2)), theta_se: Some(2.0 * se * omega.powi(-3)) }
    }
}

impl GeneralisedFit {
    pub(crate) fn kept(&self) -> Result<&Kept, InferenceError> {
        self.kept.as_ref().ok_or(InferenceError::FitNotKept)
    }
}

fn is_edge(state: TreatmentState) -> bool {
    matches!(state, TreatmentState::NothingCounted | TreatmentState::EverythingCounted)
}

/// Variances of the groupings, in the order given.
pub(crate) fn unit_variances<L: Likelihood>(
    problem: &Problem<L>,
    maximum: &Maximum,
    names: &[&str],
) -> Vec<UnitVariance> {
    let of = |(index, name): (usize, &&str)| {
        let at = problem.sd_range().start + problem.pattern.position_of(index);
        let sd = maximum.mode.parameters[at];
        let at_zero = sd == 0.0;
        let sd_se = (!at_zero).then(|| maximum.covariance[(at, at)].sqrt());
        UnitVariance { name: (*name).to_owned(), variance: sd * sd, sd, sd_se, at_zero }
    };
    names.iter().enumerate().map(of).collect()
}

/// Effects of the units, in the order given.
pub(crate) fn unit_effects<L: Likelihood>(problem: &Problem<L>, maximum: &Maximum, names: &[&str]) -> Vec<UnitEffects> {
    let of = |(index, name): (usize, &&str)| {
        let k = problem.pattern.position_of(index);
        let sd = maximum.mode.parameters[problem.sd_range().start + k];
        let places = problem.pattern.effects(k);
        let effect = places.clone().map(|place| sd * maximum.mode.effects[place]).collect();
        let sd = places.map(|place| sd * maximum.effect_variances[place].sqrt()).collect();
        UnitEffects { name: (*name).to_owned(), effect, sd }
    };
    names.iter().enumerate().map(of).collect()
}

/// Columns of the fixed part, centred on their average over the observations and scaled to unit spread.
pub(crate) struct Columns {
    /// As given, for the observations used.
    pub given: Vec<FixedColumn>,
    pub scaled: Vec<Vec<f64>>,
    average: Vec<f64>,
    scale: Vec<f64>,
}

impl Columns {
    /// - `used`: the observations in the model; averages run over all of them that were given
    pub fn of(columns: &[FixedColumn], used: &[usize]) -> Self {
        let mut found = Self { given: Vec::new(), scaled: Vec::new(), average: Vec::new(), scale: Vec::new() };
        for column in columns {
            let count = column.values.len() as f64;
            let average = column.values.iter().map(|value| value / count).sum::<f64>();
            let largest = column.values.iter().fold(0.0_f64, |largest, value| largest.max((value - average).abs()));
            let scale = if largest > 0.0 { largest } else { 1.0 };
            let values: Vec<f64> = used.iter().map(|&i| column.values[i]).collect();
            found.scaled.push(values.iter().map(|value| (value - average) / scale).collect());
            found.given.push(FixedColumn { name: column.name.clone(), values });
            found.average.push(average);
            found.scale.push(scale);
        }
        found
    }

    /// Logarithm of what a volume of slopes per unit of each column is in slopes as scaled here.
    pub fn log_scale(&self) -> f64 {
        self.scale.iter().map(|scale| scale.ln()).sum()
    }

    /// Slopes per unit of each column.
    pub fn slopes(&self, columns: &[FixedColumn], first: usize, maximum: &Maximum) -> Vec<ColumnSlope> {
        let of = |(index, column): (usize, &FixedColumn)| {
            let (at, scale) = (first + index, self.scale[index]);
            ColumnSlope {
                name: column.name.clone(),
                slope: maximum.mode.parameters[at] / scale,
                se: maximum.covariance[(at, at)].sqrt() / scale,
                average: self.average[index],
            }
        };
        columns.iter().enumerate().map(of).collect()
    }
}

/// The grouping of some of the observations; unit numbers stay.
pub(crate) fn on(grouping: &super::model::Grouping, used: &[usize]) -> super::model::Grouping {
    super::model::Grouping { class: used.iter().map(|&i| grouping.class[i]).collect(), ..grouping.clone() }
}

fn sums_by_treatment(observations: &Observations, model: &GeneralisedModel, values: &[f64]) -> Vec<f64> {
    let mut sums = vec![0.0; observations.present.iter().flatten().count()];
    for (&i, value) in observations.used.iter().zip(values) {
        sums[observations.present[model.treatment[i]].expect("used")] += value;
    }
    sums
}

fn proportion_starts(
    observations: &Observations,
    model: &GeneralisedModel,
    successes: &[f64],
    trials: &[f64],
    link: ProportionLink,
) -> Vec<f64> {
    let offset = model.offset.as_ref().map_or(0.0, |offset| offset.iter().sum::<f64>() / offset.len() as f64);
    let (y, n) = (sums_by_treatment(observations, model, successes), sums_by_treatment(observations, model, trials));
    // a half each way keeps the start off the edge
    y.iter().zip(n).map(|(y, n)| Link::Proportion(link).of((y + 0.5) / (n + 1.0)) - offset).collect()
}

fn count_starts(observations: &Observations, model: &GeneralisedModel, counts: &[f64]) -> Vec<f64> {
    let exposure = |&i: &usize| model.offset.as_ref().map_or(1.0, |offset| offset[i].exp());
    let exposures: Vec<f64> = observations.used.iter().map(exposure).collect();
    let (y, t) = (sums_by_treatment(observations, model, counts), sums_by_treatment(observations, model, &exposures));
    y.iter().zip(t).map(|(y, t)| (y / t).ln()).collect()
}

/// Logarithm of the number of ways to choose `k` of `n`.
fn log_choose(n: f64, k: f64) -> f64 {
    libm::lgamma(n + 1.0) - libm::lgamma(k + 1.0) - libm::lgamma(n - k + 1.0)
}
