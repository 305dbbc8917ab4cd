//! Every measure of a trial, analysed as the trial was laid out, and the findings that follow.

use std::collections::BTreeMap;

use guardrow_agronomy::unit::Unit;
use guardrow_findings::{Findings, MeasureResult, Measures, PremiseStatus, Setting, TestLevel, Trade, find};
use guardrow_inference::{Analysis, Covariate, InferenceError, Options, analyse};

use crate::dossier::Dossier;
use crate::error::ErrorKind;
use crate::experiment::{experiment, plot_numbers};
use crate::harvest::response;
use crate::observation::Observed;
use crate::plan::harvest_key;
use crate::{Station, StationError};

/// One measure with its values and what they say.
pub(crate) struct Analysed {
    /// Key of the measure.
    pub key: String,
    /// Name for people.
    pub name: String,
    /// Unit of the values.
    pub unit: Unit,
    /// Plot numbers, in the order of the values.
    pub plots: Vec<u32>,
    /// The values.
    pub response: Vec<Option<f64>>,
    /// The analysis, or why there is none.
    pub outcome: Result<Analysis, InferenceError>,
}

/// Analyses every measure that has values, the primary one first.
///
/// What only serves to compute the yield (mass, length, width) is not analysed by itself.
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
        let response = response(trial, observed, &key)?;
        if response.iter().all(Option::is_none) {
            continue;
        }
        let (name, unit) = trial.plan.measured(&key).expect("the keys come from the plan");
        let mut experiment = experiment(laid, response.clone());
        experiment.covariates = covariates(trial, observed, &key)?;
        let outcome = analyse(&experiment, &Options::default());
        analysed.push(Analysed { key, name, unit, plots: plots.clone(), response, outcome });
    }
    Ok(analysed)
}

/// The measures that one is adjusted for, with their values on every plot.
fn covariates(trial: &Dossier, observed: &Observed, key: &str) -> Result<Vec<Covariate>, StationError> {
    let of = |by: &str| {
        let (name, unit) = trial.plan.measured(by).ok_or_else(|| unknown_adjustment(by))?;
        Ok(Covariate { name, unit: Some(unit.symbol().to_owned()), values: response(trial, observed, by)? })
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
            let analysis = measure.outcome.as_ref().ok()?;
            let result = MeasureResult {
                name: measure.name.clone(),
                unit: measure.unit,
                lower_is_better: false,
                estimates: analysis,
            };
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
