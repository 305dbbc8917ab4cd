//! The sentences of a finding: place and year, premise, verdict, simple effects, what it would take, and what the trial
//! could not have shown.

use crate::figure::plain;
use crate::gate_sentence::out_of_reach;
use crate::sentence::{Judged, Telling};
use crate::words::{NOT_REACHABLE, NOT_SEPARATED};
use crate::{
    EffectClass, GateResult, Judgement, MOST_REPLICATES, Numbers, Premise, PremiseCondition, PremiseStatus, Verdict,
    WhatItTakes,
};

/// The premise with what is known of it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Premised<'a> {
    pub premise: Option<&'a Premise>,
    pub status: PremiseStatus,
}

impl<'a> Premised<'a> {
    /// A premise that was written down but not judged cannot be told.
    pub fn new(premise: Option<&'a Premise>, status: PremiseStatus) -> Premised<'a> {
        let unjudged = premise.is_some() && status == PremiseStatus::NoneNeeded;
        Premised { premise, status: if unjudged { PremiseStatus::CannotTell } else { status } }
    }

    /// How it is said that the premise did not occur.
    fn did_not_occur(&self) -> &str {
        let words = self.premise.map(|premise| premise.words.trim()).filter(|words| !words.is_empty());
        words.unwrap_or("the condition that the question needs did not occur")
    }

    /// The premise as a condition, for what would hold if it occurred.
    fn condition(&self) -> String {
        match self.premise.and_then(|premise| premise.condition.as_ref()) {
            Some(condition) => condition_words(condition),
            None => "the premise occurred".to_owned(),
        }
    }
}

fn condition_words(condition: &PremiseCondition) -> String {
    let PremiseCondition { measure, place, window, statistic, below, threshold, .. } = condition;
    let side = if *below { "below" } else { "above" };
    let (value, unit) = (plain(threshold.value), threshold.unit.symbol());
    format!("{measure} ({place}; {window}; {statistic}) was {side} {value} {unit}")
}

/// Everything that the sentences of one finding are made from.
pub(crate) struct Told<'a> {
    pub telling: &'a Telling<'a>,
    pub place_and_year: &'a str,
    pub premised: Premised<'a>,
    pub numbers: &'a Numbers,
    pub judgement: &'a Judgement,
    pub gate: Option<&'a GateResult>,
    pub what_it_takes: Option<&'a WhatItTakes>,
    pub separated: bool,
}

impl Told<'_> {
    fn shut(&self) -> Option<&GateResult> {
        self.gate.filter(|gate| gate.shut)
    }

    /// The verdict that may be told: none on an average that hides an interaction.
    pub fn verdict(&self) -> Option<Verdict> {
        match self.judgement.verdict {
            Some(Verdict::NeverTested) => Some(Verdict::NeverTested),
            verdict if self.shut().is_none() || self.premised.status == PremiseStatus::CannotTell => verdict,
            _ => None,
        }
    }

    /// The verdict in words, or why there is none.
    pub fn verdict_word(&self) -> String {
        match (self.verdict(), self.shut()) {
            (Some(verdict), _) => verdict.word(self.telling.first, self.telling.second),
            (None, Some(gate)) => format!("depends on {}", shut_factors(gate)),
            (None, None) => "no verdict without a margin".into(),
        }
    }

    /// Whether some text tells that the options differ, so that a cause is spoken of.
    fn tells_a_difference(&self) -> bool {
        let decided = |class: EffectClass| matches!(class, EffectClass::Plus | EffectClass::Minus);
        match self.shut() {
            _ if self.judgement.line <= 1 => false,
            Some(gate) => {
                let mut effects = gate.crossings.iter().filter(|crossing| crossing.shut).flat_map(|one| &one.effects);
                effects.any(|effect| decided(effect.class))
            }
            None => matches!(self.judgement.line, 3 | 4),
        }
    }

    /// The verdict or the simple effects, without place, premise and closing words.
    fn outcome(&self) -> String {
        if let Some(gate) = self.shut() {
            return gate.sentence.clone();
        }
        let verdict = self.judgement.conditional.or(self.judgement.verdict).unwrap_or(Verdict::Undecided);
        let judged = Judged {
            line: self.judgement.line,
            verdict,
            strength: self.judgement.strength,
            margin: self.judgement.margin.unwrap_or_default(),
        };
        self.telling.clause(self.numbers, &judged)
    }

    fn body(&self) -> String {
        let Telling { first, second, measure, .. } = self.telling;
        match (self.judgement.line, self.premised.status) {
            (0, status) => {
                let premise = match status {
                    PremiseStatus::DidNotOccur => format!("{}. ", self.premised.did_not_occur()),
                    _ => String::new(),
                };
                let estimate = self.telling.estimate_only(self.numbers);
                format!(
                    "{premise}{estimate}. There is no verdict without a margin: set the smallest difference worth acting on"
                )
            }
            (1, _) => {
                let words = self.premised.did_not_occur();
                format!(
                    "{words}, so {first} against {second} in {measure} was never tested. As agronomy under these \
                     conditions, not as a test of the claim: {}",
                    self.agronomy()
                )
            }
            (_, PremiseStatus::CannotTell) => format!(
                "if {}, then {}. Whether it was so cannot be told, so the claim is undecided",
                self.premised.condition(),
                self.outcome()
            ),
            _ => self.outcome(),
        }
    }

    /// The estimate as agronomy, level by level when it depends on another factor.
    fn agronomy(&self) -> String {
        match self.shut() {
            None => self.telling.estimate_only(self.numbers),
            Some(gate) => {
                let effects = gate.crossings.iter().filter(|crossing| crossing.shut).flat_map(|one| &one.effects);
                let told: Vec<String> = effects
                    .map(|effect| format!("at {}, {}", effect.at, self.telling.estimate_only(&effect.numbers)))
                    .collect();
                told.join("; ")
            }
        }
    }

    /// That equivalence was out of reach, and where.
    fn not_reachable(&self) -> Option<String> {
        let reachable = self.judgement.reachable?;
        let (levels, all) = self.shut().map(|gate| out_of_reach(&gate.crossings)).unwrap_or((Vec::new(), !reachable));
        if all || (!reachable && levels.is_empty()) {
            return Some(NOT_REACHABLE.to_owned());
        }
        (!levels.is_empty()).then(|| format!("at {} {NOT_REACHABLE}", levels.join(" and at ")))
    }

    fn largest_difference(&self) -> Option<String> {
        self.gate.filter(|gate| !gate.shut && self.judgement.line >= 2).map(|gate| gate.sentence.clone())
    }
}

/// The finding in sentences.
pub(crate) fn sentence(told: &Told<'_>) -> String {
    let mut text = with_place(told.place_and_year, &told.body());
    if let Some(largest) = told.largest_difference() {
        text.push_str(&format!(". Averaged over {}; {largest}", averaged_over(told.gate)));
    }
    if let Some(takes) = told.what_it_takes {
        text.push_str(&format!(". {}", takes_words(takes)));
    }
    if let Some(words) = told.not_reachable() {
        text.push_str(&format!("; {words}"));
    }
    if !told.separated && told.tells_a_difference() {
        text.push_str(&format!("; {NOT_SEPARATED}"));
    }
    text.push('.');
    text
}

/// The sentence of a claim without numbers.
pub(crate) fn not_measured(place: &str, premised: &Premised<'_>, named: [&str; 3], why: &str) -> String {
    let [first, second, measure] = named;
    let premise = match premised.status {
        PremiseStatus::DidNotOccur => format!("{}; ", premised.did_not_occur()),
        _ => String::new(),
    };
    with_place(place, &format!("{premise}there is no result for {first} against {second} in {measure}: {why}."))
}

fn with_place(place: &str, text: &str) -> String {
    if place.is_empty() { text.to_owned() } else { format!("{place}: {text}") }
}

fn shut_factors(gate: &GateResult) -> String {
    let names: Vec<String> =
        gate.crossings.iter().filter(|crossing| crossing.shut).map(|crossing| crossing.factors.join(" and ")).collect();
    names.join(", ")
}

fn averaged_over(gate: Option<&GateResult>) -> String {
    let single = gate.into_iter().flat_map(|gate| &gate.crossings).filter(|crossing| crossing.factors.len() == 1);
    let names: Vec<&str> = single.map(|crossing| crossing.factors[0].as_str()).collect();
    names.join(" and ")
}

fn takes_words(takes: &WhatItTakes) -> String {
    let count = |needed: Option<usize>| match needed {
        Some(count) => format!("about {count} replicates like these"),
        None => format!("more than {MOST_REPLICATES} replicates like these"),
    };
    let mut words = format!(
        "An 80 % chance of an answer would take, where this trial had {} replicates: {} if the true difference is as \
         estimated",
        takes.replicates_now,
        count(takes.when_as_estimated)
    );
    if !takes.zero_is_excluded {
        words.push_str(&format!(", {} if it is zero", count(takes.when_zero)));
    }
    words
}
