//! Findings: every claim of a question against the results of a trial.

use std::collections::BTreeMap;

use guardrow_agronomy::unit::Unit;
use guardrow_design::TreatmentStructure;
use serde::{Deserialize, Serialize};

use crate::caution::{cautions, notes};
use crate::chain::{Ground, moved_too};
use crate::contrast::Contrast;
use crate::finding_sentence::{Premised, not_measured, sentence};
use crate::gate::{gate, numbers_of};
use crate::sentence::{Manner, Telling};
use crate::words::mid_sentence;
use crate::{
    Chain, Claim, Direction, Estimate, Estimates, FindingError, GateResult, GateRule, Judgement, MarginInUnit, Numbers,
    PremiseStatus, Question, RivalState, Sidedness, StepFinding, Strength, TestLevel, Trade, Verdict, WhatItTakes,
    difference_symbol, judge_bounds, what_it_takes,
};

/// One analysed measure.
pub struct MeasureResult<'a> {
    /// Name for people.
    pub name: String,
    /// Unit of its values.
    pub unit: Unit,
    /// Whether a lower value is the better one, for claims that do not say which option is better.
    pub lower_is_better: bool,
    /// Its analysis.
    pub estimates: &'a dyn Estimates,
}

/// The measures that were analysed, by key. A measure that is not there was not measured.
pub type Measures<'a> = BTreeMap<String, MeasureResult<'a>>;

/// What a finding needs to know of the trial beside its question and results.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting<'a> {
    /// Place and year as every sentence names them: `Hollin Field, 2025`.
    pub place_and_year: &'a str,
    /// Whether the premise occurred. A question that has a premise is treated as `cannot_tell` when this says that none
    /// is needed.
    pub premise: PremiseStatus,
    /// Replicates of the trial, for what a decision would take.
    pub replicates: usize,
    /// The level of tests.
    pub level: TestLevel,
    /// Crop and currency, for margins.
    pub trade: Trade<'a>,
}

/// What the trial says about one claim.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Finding {
    /// The claim as it was written.
    pub statement: String,
    /// The first option in words.
    pub first: String,
    /// The second option in words.
    pub second: String,
    /// The factor whose levels are compared; absent when two treatments are.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub factor: Option<String>,
    /// Key of the measure.
    pub measure_key: String,
    /// Name of the measure.
    pub measure: String,
    /// Unit of the difference.
    pub unit: String,
    /// First option minus second, averaged over the other factors; absent when it was not measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub numbers: Option<Numbers>,
    /// The smallest difference worth acting on; absent when none was set.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub margin: Option<MarginInUnit>,
    /// The verdict that may be told; absent without a margin or numbers, and when the interaction gate is shut.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verdict: Option<Verdict>,
    /// The verdict in words, or why there is none (`depends on row spacing`).
    pub verdict_word: String,
    /// How strongly the verdict may be told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub strength: Option<Strength>,
    /// The finding in sentences, with place and year.
    pub sentence: String,
    /// What a reader must know beside the sentence.
    pub notes: Vec<String>,
    /// The judgement of the average, oriented as claimed. When the gate is shut it belongs only in a table, marked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub judgement: Option<Judgement>,
    /// Whether the average may stand alone, and the simple effects; absent when it averages over nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gate: Option<GateResult>,
    /// What a decision would take, when undecided.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub what_it_takes: Option<WhatItTakes>,
}

/// What the trial says about its question.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Findings {
    /// One finding per claim, the main claim first.
    pub claims: Vec<Finding>,
    /// The chain of the main claim.
    pub chain: Chain,
    /// Other explanations of the main claim's outcome.
    pub rivals: Vec<StepFinding<RivalState>>,
    /// What holds for all of them.
    pub cautions: Vec<String>,
}

/// Judges every claim, link and rival of a question.
///
/// # Errors
/// What is wrong with the question as written: names that the trial does not have, margins that do not fit their
/// measure. What was not measured or cannot be estimated is no error; it is said in the finding.
pub fn find(
    question: &Question,
    treatments: &TreatmentStructure,
    measures: &Measures<'_>,
    setting: &Setting<'_>,
) -> Result<Findings, FindingError> {
    let premised = Premised::new(question.premise.as_ref(), setting.premise);
    let (chain, rivals) = chain_and_rivals(question, treatments, measures, setting, premised.status)?;
    let separated = moved_too(&rivals).is_empty();
    let claims: Vec<Finding> = question
        .claims
        .iter()
        .enumerate()
        .map(|(index, claim)| {
            // Rivals were measured on the main claim's comparison.
            let separated = separated || claim.comparison != question.claims[0].comparison;
            let judging = Judging { claim, place: format!("question.claims[{index}]"), setting, premised, separated };
            judging.find(treatments, measures)
        })
        .collect::<Result<_, _>>()?;
    let cautions = cautions(question, &claims, &chain, &rivals, setting, premised.status);
    Ok(Findings { claims, chain, rivals, cautions })
}

fn chain_and_rivals(
    question: &Question,
    treatments: &TreatmentStructure,
    measures: &Measures<'_>,
    setting: &Setting<'_>,
    premise: PremiseStatus,
) -> Result<(Chain, Vec<StepFinding<RivalState>>), FindingError> {
    let Some(main) = question.claims.first() else { return Ok(Default::default()) };
    let contrast = Contrast::find(&main.comparison, treatments, "question.claims[0].comparison")?;
    let (first, second) = (contrast.first_words(), contrast.second_words());
    let ground = Ground { contrast: &contrast, first: &first, second: &second, measures, setting };
    let rivals = ground.rivals(&question.rivals)?;
    Ok((ground.chain(&question.links, &rivals, premise)?, rivals))
}

/// One claim on its way to a finding.
struct Judging<'a> {
    claim: &'a Claim,
    place: String,
    setting: &'a Setting<'a>,
    premised: Premised<'a>,
    separated: bool,
}

impl Judging<'_> {
    fn find(&self, treatments: &TreatmentStructure, measures: &Measures<'_>) -> Result<Finding, FindingError> {
        let contrast = Contrast::find(&self.claim.comparison, treatments, &format!("{}.comparison", self.place))?;
        let Some(measure) = measures.get(&self.claim.measure) else {
            return Ok(self.without_numbers(&contrast, None, "it was not measured"));
        };
        let margin = match &self.claim.margin {
            Some(margin) => {
                let place = format!("{}.margin", self.place);
                Some(margin.in_unit(measure.unit, &measure.name, &place, self.setting.trade)?)
            }
            None => None,
        };
        let what = format!("the difference in {}", mid_sentence(&measure.name));
        match numbers_of(measure.estimates, &contrast.weights(), self.setting.level.alpha(), &what) {
            Ok(numbers) => Ok(self.judged(&contrast, measure, margin, numbers)),
            Err(error) => {
                let mut finding = self.without_numbers(&contrast, Some(measure), &error.to_string());
                finding.margin = margin;
                Ok(finding)
            }
        }
    }

    fn judged(
        &self,
        contrast: &Contrast,
        measure: &MeasureResult<'_>,
        margin: Option<MarginInUnit>,
        numbers: Numbers,
    ) -> Finding {
        let (first, second) = (contrast.first_words(), contrast.second_words());
        let telling = self.telling(&first, &second, measure);
        let size = margin.as_ref().map(|margin| margin.value);
        let bounds = numbers.bounds(telling.lower_is_as_claimed);
        let judgement = judge_bounds(bounds, size, telling.sidedness, self.premised.status);
        let (gate, gate_trouble) = self.gate(contrast, measure, &telling, &numbers, size);
        let shut = gate.as_ref().is_some_and(|gate| gate.shut);
        let what_it_takes = size.filter(|_| judgement.line == 6 && !shut).and_then(|size| {
            let oriented = Estimate { estimate: bounds.estimate, se: numbers.se, df: numbers.df };
            what_it_takes(&oriented, self.setting.replicates, size, telling.sidedness, self.setting.level.alpha())
        });
        let told = crate::finding_sentence::Told {
            telling: &telling,
            place_and_year: self.setting.place_and_year,
            premised: self.premised,
            numbers: &numbers,
            judgement: &judgement,
            gate: gate.as_ref(),
            what_it_takes: what_it_takes.as_ref(),
            separated: self.separated,
        };
        let sentence = sentence(&told);
        let mut notes = notes(&numbers, margin.as_ref(), &judgement, gate.as_ref(), what_it_takes.as_ref());
        notes.extend(gate_trouble);
        let verdict = told.verdict();
        Finding {
            statement: self.claim.statement.clone(),
            measure_key: self.claim.measure.clone(),
            measure: measure.name.clone(),
            unit: telling.unit.to_owned(),
            verdict_word: told.verdict_word(),
            strength: judgement.strength.filter(|_| verdict == judgement.verdict && judgement.conditional.is_none()),
            verdict,
            numbers: Some(numbers),
            judgement: Some(judgement),
            margin,
            sentence,
            notes,
            gate,
            what_it_takes,
            factor: contrast.factor().map(str::to_owned),
            first,
            second,
        }
    }

    fn telling<'t>(&self, first: &'t str, second: &'t str, measure: &MeasureResult<'_>) -> Telling<'t> {
        let (sidedness, lower_is_as_claimed) = match self.claim.direction {
            Direction::Higher => (Sidedness::Directed, false),
            Direction::Lower => (Sidedness::Directed, true),
            Direction::Either => (Sidedness::Either, measure.lower_is_better),
        };
        Telling {
            first,
            second,
            measure: mid_sentence(&measure.name),
            unit: difference_symbol(measure.unit),
            sidedness,
            lower_is_as_claimed,
            manner: Manner::Claim,
        }
    }

    /// The gate, or what stands in the way of judging it.
    fn gate(
        &self,
        contrast: &Contrast,
        measure: &MeasureResult<'_>,
        telling: &Telling<'_>,
        numbers: &Numbers,
        margin: Option<f64>,
    ) -> (Option<GateResult>, Option<String>) {
        if contrast.crossed().is_empty() {
            return (None, None);
        }
        let Some(margin) = margin else {
            return (None, Some("Without a margin it is not judged whether the average hides an interaction.".into()));
        };
        let rule = GateRule {
            margin,
            sidedness: telling.sidedness,
            alpha: self.setting.level.alpha(),
            lower_is_as_claimed: telling.lower_is_as_claimed,
        };
        match gate(contrast, measure.estimates, numbers, &rule, telling) {
            Ok(gate) => (gate, None),
            Err(error) => {
                (None, Some(format!("Whether the average hides an interaction could not be judged: {error}.")))
            }
        }
    }

    fn without_numbers(&self, contrast: &Contrast, measure: Option<&MeasureResult<'_>>, why: &str) -> Finding {
        let (first, second) = (contrast.first_words(), contrast.second_words());
        let name = measure.map(|measure| measure.name.as_str()).unwrap_or(&self.claim.measure);
        Finding {
            statement: self.claim.statement.clone(),
            measure_key: self.claim.measure.clone(),
            measure: name.to_owned(),
            unit: measure.map(|measure| difference_symbol(measure.unit).to_owned()).unwrap_or_default(),
            numbers: None,
            margin: None,
            verdict: None,
            verdict_word: "not measured".into(),
            strength: None,
            sentence: not_measured(
                self.setting.place_and_year,
                &self.premised,
                [&first, &second, &mid_sentence(name)],
                why,
            ),
            notes: Vec::new(),
            judgement: None,
            gate: None,
            what_it_takes: None,
            factor: contrast.factor().map(str::to_owned),
            first,
            second,
        }
    }
}
