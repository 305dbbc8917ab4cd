//! What a reader must know beside a verdict: notes on one finding, cautions on all of them.

use crate::finding::{Finding, Setting};
use crate::words::{NOT_REACHABLE, mid_sentence};
use crate::{
    Chain, GateResult, Judgement, LinkState, MarginInUnit, Numbers, PremiseStatus, Question, RivalState, StepFinding,
    TestLevel, WhatItTakes,
};

/// Fewer error degrees of freedom than this are warned about.
pub const FEW_ERROR_DF: f64 = 12.0;

/// Notes on one finding.
pub(crate) fn notes(
    numbers: &Numbers,
    margin: Option<&MarginInUnit>,
    judgement: &Judgement,
    gate: Option<&GateResult>,
    takes: Option<&WhatItTakes>,
) -> Vec<String> {
    let mut notes = Vec::new();
    if let Some(margin) = margin {
        notes.push(format!("Margin: {}.", margin.words));
    }
    if judgement.reachable == Some(false) {
        let level = crate::sentence::percent(numbers.equivalence.level);
        notes.push(format!("Half the width of the {level} interval is not below the margin: {NOT_REACHABLE}."));
    }
    if let Some(gate) = gate.filter(|gate| gate.shut) {
        notes.push(format!(
            "The average hides a decision, which is another one at {}, so it stands only in the table.",
            gate.shut_by.join(" and at ")
        ));
    }
    if numbers.df < FEW_ERROR_DF {
        let df = crate::figure::plain(numbers.df);
        notes.push(format!("It rests on {df} error degrees of freedom, fewer than {FEW_ERROR_DF}."));
    }
    if takes.is_some() {
        notes.push(
            "The number of replicates assumes this arrangement and this variation between plots; the standard error is \
             itself an estimate, so read it as a rough size. Other sites or years count as replicates only for what they have \
             in common."
                .into(),
        );
    }
    notes
}

/// Cautions on all findings.
pub(crate) fn cautions(
    question: &Question,
    claims: &[Finding],
    chain: &Chain,
    rivals: &[StepFinding<RivalState>],
    setting: &Setting<'_>,
    premise: PremiseStatus,
) -> Vec<String> {
    let mut cautions = Vec::new();
    cautions.extend(premise_caution(question, premise, setting.premise));
    cautions.extend(level_caution(setting.level));
    if claims.is_empty() {
        cautions.push("The question makes no claim, so nothing is judged.".into());
    }
    if claims.len() > 1 {
        cautions.push("Each claim has its own interval, not widened for the number of claims.".into());
    }
    cautions.extend(gap_caution(chain));
    cautions.extend(rivals.iter().filter_map(rival_caution));
    if claims.first().and_then(|claim| claim.gate.as_ref()).is_some_and(|gate| gate.shut) && !chain.links.is_empty() {
        cautions.push("The chain is told on the average, which hides a decision of the main claim.".into());
    }
    cautions
}

fn premise_caution(question: &Question, premise: PremiseStatus, given: PremiseStatus) -> Option<String> {
    match premise {
        PremiseStatus::DidNotOccur => Some(
            "The premise did not occur: the differences may be told as agronomy under these conditions, not as a test of the \
             claim."
                .into(),
        ),
        PremiseStatus::CannotTell if given == PremiseStatus::NoneNeeded && question.premise.is_some() => {
            Some("The question has a premise that was not judged; it is treated as one that cannot be told.".into())
        }
        PremiseStatus::CannotTell => Some("Whether the premise occurred cannot be told.".into()),
        PremiseStatus::Occurred | PremiseStatus::NoneNeeded => None,
    }
}

fn level_caution(level: TestLevel) -> Option<String> {
    let percent = match level {
        TestLevel::FivePercent => return None,
        TestLevel::TenPercent => 10,
        TestLevel::TwentyPercent => 20,
    };
    Some(format!("Tests and intervals are at {percent} %, for screening: a first look, to be repeated at 5 %."))
}

fn gap_caution(chain: &Chain) -> Option<String> {
    let index = chain.first_gap?;
    let link = &chain.links[index];
    let word = if link.state == LinkState::Broken { "broken" } else { "not measured" };
    Some(format!("The chain has a gap at step {} ({}): {word}.", index + 1, mid_sentence(&link.step)))
}

fn rival_caution(rival: &StepFinding<RivalState>) -> Option<String> {
    let word = match rival.state {
        RivalState::MovedToo => "moved too",
        RivalState::Open => "is open",
        RivalState::NotMeasured => "was not measured",
        RivalState::Stayed => return None,
    };
    Some(format!("Another explanation {word}: {}", mid_sentence(&rival.sentence)))
}
