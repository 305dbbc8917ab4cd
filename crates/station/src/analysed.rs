//! Every measure of a trial, analysed as the trial was laid out, and the findings that follow.

use std::collections::BTreeMap;

use guardrow_agronomy::unit::Unit;
use guardrow_findings::{Estimates, Findings, MeasureResult, Measures, PremiseStatus, Setting, TestLevel, Trade, find};
use guardrow_inference::{
    Analysis, Covariate, DiscreteAnalysis, Experiment, InferenceError, MeansTable, Options, TermTest,
    TransformedAnalysis, analyse, analyse_discrete, analyse_transformed,
};

use crate::counted::{Raw, raw};
use crate::dossier::Dossier;
use crate::error::ErrorKind;
use crate::experiment::{experiment, plot_numbers};
use crate::observation::Observed;
use crate::plan::harvest_key;
use crate::{Station, StationError};

/// One measure with its values and what they say.
pub(crate) struct Analysed {
    /// Key of the measure.
    pub key: String,
    /// Name for people.
    pub name: String,
    /// Unit in which it is told.
    pub unit: Unit,
    /// Plot numbers, in the order of the values.
    pub plots: Vec<u32>,
    /// The values in this unit: shares in percent, counts per area or length that was searched.
    pub response: Vec<Option<f64>>,
    /// These values on the plots as they were laid out, with what they are adjusted for.
    pub experiment: Experiment,
    /// The analysis of these values as measurements, or why there is none.
    pub outcome: Result<Analysis, InferenceError>,
    /// The analysis of counts, shares and scores as what they are, which then leads.
    pub discrete: Option<Result<DiscreteAnalysis, InferenceError>>,
    /// The analysis after the transformation that the plan names, beside the others.
    pub transformed: Option<Result<TransformedAnalysis, InferenceError>>,
}

/// The tables and tests of the analysis that leads.
#[derive(Clone, Copy)]
pub(crate) struct Leading<'a> {
    /// Means, in the unit in which the measure is told.
    pub tables: &'a [MeansTable],
    /// Tests of all terms.
    pub tests: &'a [TermTest],
    /// Level of tests and intervals.
    pub level: f64,
}

impl Analysed {
    /// The analysis of counts, shares or scores, where there is one.
    pub(crate) fn as_discrete(&self) -> Option<&DiscreteAnalysis> {
        self.discrete.as_ref()?.as_ref().ok()
    }

    /// The analysis that leads; nothing when there is none.
    pub(crate) fn leading(&self) -> Option<Leading<'_>> {
        let discrete = self.as_discrete().map(|it| Leading { tables: &it.tables, tests: &it.tests, level: it.level });
        let plain = || self.outcome.as_ref().ok();
        discrete.or_else(|| plain().map(|it| Leading { tables: &it.tables, tests: &it.tests, level: it.level }))
    }

    /// Why there is no analysis at all.
    pub(crate) fn why_not(&self) -> Option<String> {
        let error = match (&self.discrete, &self.outcome) {
            (Some(Err(error)), Err(_)) | (None, Err(error)) => error,
            _ => return None,
        };
        Some(self.words(error))
    }

    /// An error in words, with the number that the plot has on the ground.
    pub(crate) fn words(&self, error: &InferenceError) -> String {
        let words = format!("{error}. {}", error.help());
        let mut words = words;
        for (index, number) in self.plots.iter().enumerate() {
            words = words.replace(&format!("plot {index} (counted from 0)"), &format!("plot {number}"));
        }
        words
    }

    fn estimates(&self) -> Option<&dyn Estimates> {
        match (self.as_discrete(), &self.outcome) {
            (Some(discrete), _) => Some(discrete),
            (None, Ok(analysis)) => Some(analysis),
            (None, Err(_)) => None,
        }
    }
}

/// Analyses every measure that has values, the primary one first.
///
/// What only serves to compute the yield (mass, length, width), or only tells out of how many or on what area was counted, is not
/// analysed by itself.
pub(crate) fn analyse_all(trial: &Dossier, observed: &Observed) -> Result<Vec<Analysed>, StationError> {
    let laid = trial.laid()?;
    let plots = plot_numbers(laid);
    let mut keys = trial.plan.measured_keys();
    if let Some(primary) = trial.plan.primary_measure() {
        keys.retain(|key| *key != primary);
        keys.insert(0, primary);
    }
    let mut analysed = Vec::new();
    for key in keys {
        if trial.plan.harvest.is_some()
            && [harvest_key::MASS, harvest_key::LENGTH, harvest_key::WIDTH].contains(&key.as_str())
        {
            continue;
        }
        let is_beside = trial.plan.measures.iter().any(|measure| measure.values.beside() == Some(&key));
        if is_beside && !trial.plan.question.claims.iter().any(|claim| claim.measure == key) {
            continue;
        }
        let raw = raw(trial, observed, &key)?;
        if raw.values.iter().all(Option::is_none) {
            continue;
        }
        let (name, unit) = trial.plan.measured(&key).expect("the keys come from the plan");
        let covariates = covariates(trial, observed, &key)?;
        let of = |response| Experiment { covariates: covariates.clone(), ..experiment(laid, response) };
        let response = raw.plain();
        let experiment = of(response.clone());
        let outcome = analyse(&experiment, &Options::default());
        let discrete = raw
            .kind
            .as_ref()
            .map(|kind| analyse_discrete(&of(raw.values.clone()), kind, outcome.as_ref().ok(), &Options::default()));
        let measure = trial.plan.measures.iter().find(|measure| measure.key == key);
        let transformed = measure
            .and_then(|measure| measure.transformed)
            .map(|transform| analyse_transformed(&experiment, transform, &Options::default()));
        let plots = plots.clone();
        analysed.push(Analysed { key, name, unit, plots, response, experiment, outcome, discrete, transformed });
    }
    Ok(analysed)
}

/// The measures that one is adjusted for, with their values on every plot.
fn covariates(trial: &Dossier, observed: &Observed, key: &str) -> Result<Vec<Covariate>, StationError> {
    let of = |by: &str| {
        let (name, unit) = trial.plan.measured(by).ok_or_else(|| unknown_adjustment(by))?;
        let values = raw(trial, observed, by).map(|raw: Raw| raw.plain())?;
        Ok(Covariate { name, unit: Some(unit.symbol().to_owned()), values })
    };
    trial.plan.adjusted_by(key).into_iter().map(of).collect()
}

fn unknown_adjustment(key: &str) -> StationError {
    let what = format!("“{key}” is not a measure of this trial, so nothing can be adjusted for it");
    StationError::new(ErrorKind::Refused, what, "adjustments", "name a measure of the plan by its key")
}

/// Judges the question of a trial on its analysed measures.
pub(crate) fn findings(
    trial: &Dossier,
    analysed: &[Analysed],
    premise: PremiseStatus,
) -> Result<Findings, StationError> {
    let laid = trial.laid()?;
    let measures: Measures<'_> = analysed
        .iter()
        .filter_map(|measure| {
            let estimates = measure.estimates()?;
            let (name, unit) = (measure.name.clone(), measure.unit);
            let result = MeasureResult { name, unit, lower_is_better: false, estimates };
            Some((measure.key.clone(), result))
        })
        .collect::<BTreeMap<_, _>>();
    let place = place_and_year(trial);
    let setting = Setting {
        place_and_year: &place,
        premise,
        replicates: laid.arrangement.replicates(),
        level: TestLevel::default(),
        trade: Trade { crop: trial.crop(), currency: trial.plan.currency() },
    };
    find(&trial.plan.question, &laid.treatments, &measures, &setting)
        .map_err(|error| StationError::new(ErrorKind::Refused, error.to_string(), "question", error.help()))
}

/// Place and year, as every sentence names them.
pub(crate) fn place_and_year(trial: &Dossier) -> String {
    let head = &trial.plan.trial;
    match head.site.trim() {
        "" => head.season.to_string(),
        site => format!("{site}, {}", head.season),
    }
}

impl Station {
    /// The main finding in a sentence, for the list of trials; nothing when it cannot be told yet.
    pub(crate) fn answer(&self, trial: &Dossier, observed: &Observed) -> Option<String> {
        let status = self.premise_status(trial).ok()?;
        let analysed = analyse_all(trial, observed).ok()?;
        let findings = findings(trial, &analysed, status).ok()?;
        findings.claims.first().map(|finding| finding.sentence.clone())
    }

    /// Whether the premise occurred, as far as a person has judged.
    pub(crate) fn premise_status(&self, trial: &Dossier) -> Result<PremiseStatus, StationError> {
        Ok(match (&trial.plan.question.premise, self.premise_of(trial)?) {
            (None, _) => PremiseStatus::NoneNeeded,
            (Some(_), Some(judgement)) => judgement.status,
            (Some(_), None) => PremiseStatus::CannotTell,
        })
    }
}
