//! One fit of either kind, in the form in which tables and tests take it.

use super::kind::ToldAs;
use super::model::{Parts, used};
use super::natural::scaled;
use super::{DiscreteFit, DiscreteKind, EdgeMean};
use crate::fit::Fit;
use crate::generalised::{
    CountSpread, GeneralisedFit, Link, Observed, ProportionLink, TreatmentMean, TreatmentState, UnitVariance,
};
use crate::model::Partition;
use crate::ordinal::{OrdinalFit, ScoreLink, ScoreMean};
use crate::plots::Plots;
use crate::{Evidence, Experiment, InferenceError, Notice};

/// A fit with all that is told of it.
pub(super) struct Fitted {
    pub fit: DiscreteFit,
    pub link: Link,
    pub on_link: Fit,
    /// In the unit in which means are told.
    pub natural: Fit,
    pub told_as: ToldAs,
    pub at_edge: Vec<EdgeMean>,
    pub components: Vec<UnitVariance>,
    pub log_likelihood: f64,
    pub evidence: Evidence,
    pub notices: Vec<Notice>,
}

/// Fits the model; where a plot is named, by its index in the experiment.
pub(super) fn fit(
    experiment: &Experiment,
    kind: &DiscreteKind,
    plots: &Plots,
    partitions: &[Partition],
    level: f64,
) -> Result<Fitted, InferenceError> {
    let parts = Parts::of(experiment, plots, partitions);
    let at = |plot: usize| plots.index[plot];
    match kind {
        DiscreteKind::Scores { link } => {
            let (model, scores) = parts.scored(*link)?;
            let fit = crate::ordinal::fit_restricted(&model).map_err(|error| match error {
                InferenceError::ScoresForetold { treatment, row } => {
                    InferenceError::ScoresForetold { treatment, row: at(row) }
                }
                other => other,
            })?;
            scored(fit, kind, &scores, level)
        }
        DiscreteKind::Counts { searched, spread } => {
            let offset = searched.as_ref().map(|it| used(plots, it).iter().map(|size| size.ln()).collect());
            let model = parts.counted(|counts| Observed::Counts { counts, spread: *spread }, offset);
            counted(crate::generalised::fit_restricted(&model), kind, level, at)
        }
        DiscreteKind::Shares { of, link } => {
            let trials = used(plots, of);
            let observed = |successes| Observed::Proportions { successes, trials, link: *link };
            counted(crate::generalised::fit_restricted(&parts.counted(observed, None)), kind, level, at)
        }
    }
}

fn counted(
    fit: Result<GeneralisedFit, InferenceError>,
    kind: &DiscreteKind,
    level: f64,
    at: impl Fn(usize) -> usize,
) -> Result<Fitted, InferenceError> {
    let fit = fit.map_err(|error| match error {
        InferenceError::Separated { treatment, plot } => InferenceError::Separated { treatment, plot: at(plot) },
        other => other,
    })?;
    let told_as = kind.told_as((0.0, 1.0));
    let is_edge =
        |mean: &TreatmentMean| matches!(mean.state, TreatmentState::NothingCounted | TreatmentState::EverythingCounted);
    let times = |value: Option<f64>| value.map(|value| told_as.width * value);
    let edge = |it: TreatmentMean| {
        Some(EdgeMean { label: it.label, mean: times(it.mean)?, lower: times(it.lower), upper: times(it.upper) })
    };
    Ok(Fitted {
        link: fit.link,
        on_link: fit.on_link()?.clone(),
        natural: scaled(fit.on_natural_scale()?, told_as.width),
        told_as,
        at_edge: fit.means(level)?.into_iter().filter(is_edge).filter_map(edge).collect(),
        components: fit.components.clone(),
        log_likelihood: fit.log_likelihood,
        evidence: fit.evidence.clone(),
        notices: fit.notices.clone(),
        fit: DiscreteFit::Counted(fit),
    })
}

fn scored(fit: OrdinalFit, kind: &DiscreteKind, scores: &[f64], level: f64) -> Result<Fitted, InferenceError> {
    let (Some(&lowest), Some(&highest)) = (scores.first(), scores.last()) else { return Err(InferenceError::NoValues) };
    let value = |it: &ScoreMean| it.shares.iter().zip(scores).map(|(share, score)| share.share * score).sum::<f64>();
    let edge = |it: ScoreMean| EdgeMean { mean: value(&it), label: it.label, lower: None, upper: None };
    let at_edge = fit.means(level)?.into_iter().filter(|mean| mean.state.is_end()).map(edge).collect();
    Ok(Fitted {
        link: Link::Proportion(fit.link.of_proportions()),
        on_link: fit.on_link()?.clone(),
        natural: fit.on_values(scores)?,
        told_as: kind.told_as((lowest, highest)),
        at_edge,
        components: fit.components.clone(),
        log_likelihood: fit.log_likelihood,
        evidence: fit.evidence.clone(),
        notices: fit.notices.clone(),
        fit: DiscreteFit::Scored(fit),
    })
}

/// The model in one sentence.
pub(super) fn sentence(fitted: &Fitted, kind: &DiscreteKind) -> String {
    let what = match kind {
        DiscreteKind::Counts { spread: CountSpread::Poisson, .. } => "Counts by a Poisson model",
        DiscreteKind::Counts { spread: CountSpread::NegativeBinomial, .. } => "Counts by a negative binomial model",
        DiscreteKind::Shares { .. } => "Shares by a binomial model",
        DiscreteKind::Scores { link: ScoreLink::Logit } => "Scores by proportional odds",
        DiscreteKind::Scores { link: ScoreLink::Probit } => "Scores by thresholds",
    };
    let scale = match fitted.link {
        Link::Log => "the logarithmic scale",
        Link::Proportion(ProportionLink::Logit) => "the scale of log odds",
        Link::Proportion(ProportionLink::Probit) => "a hidden normal scale",
        Link::Proportion(ProportionLink::ComplementaryLogLog) => "the complementary log-log scale",
    };
    let units: Vec<&str> = fitted.components.iter().map(|it| it.name.as_str()).collect();
    let units = match units.as_slice() {
        [] => "no effects of units".to_owned(),
        names => format!("random effects of {}", names.join(", ")),
    };
    format!(
        "{what}: treatments add on {scale}, with {units}; variances by restricted, means by maximum likelihood (Laplace)."
    )
}
