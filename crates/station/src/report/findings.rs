//! The question and what was found, as the report tells them.

use guardrow_findings::{
    Direction, Findings, LinkState, Numbers, PremiseStatus, RivalState, StepFinding, Verdict as FoundVerdict,
    mid_sentence,
};
use guardrow_publish::report::{self, ChainLink, Finding, Premise, Question, chain_table};

use super::capital_first;
use super::figures::verdict;
use super::numbers::{Decimals, df};
use crate::PremiseJudgement;
use crate::analysed::Analysed;
use crate::dossier::Dossier;

/// The question card.
pub(crate) fn question(
    trial: &Dossier,
    found: &Findings,
    status: PremiseStatus,
    judgement: Option<&PremiseJudgement>,
) -> Question {
    let question = &trial.plan.question;
    let main = question.claims.first();
    Question {
        decision: question.decision.clone(),
        who_acts: question.who_acts.clone(),
        claim: main.map(|claim| claim.statement.clone()).unwrap_or_default(),
        margin: found
            .claims
            .first()
            .and_then(|finding| finding.margin.as_ref())
            .map_or_else(|| "not set, so there is no verdict".to_owned(), |margin| margin.words.clone()),
        premise: premise(trial, status, judgement),
        chain: chain(trial, found),
        chain_sentence: found.chain.sentence.clone(),
        rivals: found.rivals.iter().map(rival).collect(),
    }
}

fn premise(trial: &Dossier, status: PremiseStatus, judgement: Option<&PremiseJudgement>) -> Premise {
    let Some(premise) = &trial.plan.question.premise else {
        return Premise {
            text: String::new(),
            status: report::PremiseStatus::NoneNeeded,
            status_text: "none needed".to_owned(),
            evidence: String::new(),
        };
    };
    let condition = premise.condition.as_ref().map(|condition| {
        let side = if condition.below { "below" } else { "above" };
        format!(
            " It occurred if the {} of {}, {}, {}, is {side} {}.",
            condition.statistic, condition.measure, condition.place, condition.window, condition.threshold
        )
    });
    let (status, status_text) = match status {
        PremiseStatus::Occurred => (report::PremiseStatus::Occurred, "The condition occurred"),
        PremiseStatus::DidNotOccur => (report::PremiseStatus::DidNotOccur, "The condition did not occur"),
        PremiseStatus::CannotTell => {
            (report::PremiseStatus::CannotTell, "Nobody can tell whether the condition occurred")
        }
        PremiseStatus::NoneNeeded => (report::PremiseStatus::NoneNeeded, "none needed"),
    };
    let evidence = judgement.map(|judgement| {
        let late = if judgement.after_yields { ", after yields were in" } else { ", before yields were in" };
        format!(
            "{} (judged by {}, {}{late})",
            judgement.evidence,
            judgement.by,
            crate::station::day(judgement.recorded_at)
        )
    });
    Premise {
        text: format!("Not tested when {}.{}", premise.words.trim_end_matches('.'), condition.unwrap_or_default()),
        status,
        status_text: if judgement.is_some() { status_text.to_owned() } else { "Not judged yet".to_owned() },
        evidence: evidence.unwrap_or_default(),
    }
}

fn chain(trial: &Dossier, found: &Findings) -> report::Table {
    let links: Vec<ChainLink> = trial
        .plan
        .question
        .links
        .iter()
        .zip(&found.chain.links)
        .enumerate()
        .map(|(index, (link, judged))| ChainLink {
            measure: match judged.measure.as_str() {
                "" => link.step.clone(),
                measure => format!("{} ({})", link.step, mid_sentence(measure)),
            },
            expectation: expectation(link.direction, judged),
            when: link.when.clone(),
            estimate: judged.numbers.as_ref().map(|numbers| told(numbers, &judged.unit)).unwrap_or_default(),
            verdict: link_word(judged.state).to_owned(),
            attention: found.chain.first_gap == Some(index),
        })
        .collect();
    chain_table(&links)
}

fn expectation<State>(direction: Direction, judged: &StepFinding<State>) -> String {
    let direction = match direction {
        Direction::Higher => "higher",
        Direction::Lower => "lower",
        Direction::Either => "either way",
    };
    match &judged.smallest {
        Some(smallest) => format!("{direction} by at least {}", smallest.words),
        None => direction.to_owned(),
    }
}

fn link_word(state: LinkState) -> &'static str {
    match state {
        LinkState::Held => "held",
        LinkState::Broken => "broken",
        LinkState::Open => "open",
        LinkState::NotMeasured => "not measured",
    }
}

fn rival(judged: &StepFinding<RivalState>) -> String {
    let word = match judged.state {
        RivalState::MovedToo => "moved too",
        RivalState::Stayed => "stayed",
        RivalState::Open => "open",
        RivalState::NotMeasured => "not measured",
    };
    if judged.step.is_empty() {
        return format!("{}: {}.", capital_first(word), judged.outcome);
    }
    format!("{}: {word}. {}.", capital_first(&judged.step), capital_first(&judged.outcome))
}

/// `+0.21 kg/ha (95 % interval 0.05 to 0.37)`.
fn told(numbers: &Numbers, unit: &str) -> String {
    let decimals = Decimals::earned(Some(numbers.se), guardrow_agronomy::unit::Unit::Count);
    format!(
        "{} {unit} ({} % interval {})",
        decimals.difference(numbers.estimate),
        df(100.0 * numbers.interval.level),
        decimals.interval(numbers.interval.lower, numbers.interval.upper)
    )
}

/// The findings, the main claim first.
pub(crate) fn findings(found: &Findings, analysed: &[Analysed]) -> Vec<Finding> {
    found
        .claims
        .iter()
        .map(|finding| Finding {
            claim: format!("{}, {} against {}", finding.measure, finding.first, finding.second),
            verdict: verdict(finding),
            sentence: finding.sentence.clone(),
            numbers: finding
                .numbers
                .as_ref()
                .map(|numbers| numbers_line(finding, numbers, analysed))
                .unwrap_or_default(),
            would_take: String::new(),
            notes: finding.notes.clone(),
            not_to_say: may_not_say(finding),
        })
        .collect()
}

/// Words that this verdict does not carry, in quotation marks.
fn may_not_say(finding: &guardrow_findings::Finding) -> Vec<String> {
    let words = finding.verdict.map(FoundVerdict::may_not_say).unwrap_or_default();
    words.iter().map(|word| format!("“{word}”")).collect()
}

fn numbers_line(finding: &guardrow_findings::Finding, numbers: &Numbers, analysed: &[Analysed]) -> String {
    let unit = analysed.iter().find(|measure| measure.key == finding.measure_key).map(|measure| measure.unit);
    let decimals = Decimals::earned(Some(numbers.se), unit.unwrap_or(guardrow_agronomy::unit::Unit::Count));
    format!("{}, SE {}, {} df", told(numbers, &finding.unit), decimals.finer().value(numbers.se), df(numbers.df))
}

/// Factors whose averages the interaction gate keeps from standing alone.
pub(crate) fn withheld(about: &[&guardrow_findings::Finding]) -> Vec<String> {
    let shut = about.iter().filter(|finding| finding.gate.as_ref().is_some_and(|gate| gate.shut));
    shut.filter_map(|finding| finding.factor.clone()).collect()
}

/// What the results do not mean.
pub(crate) fn not_meant(trial: &Dossier, found: &Findings) -> Vec<String> {
    let mut lines = vec![format!(
        "This is one trial at one place in one season ({}). It says nothing yet about other ground or other years.",
        crate::analysed::place_and_year(trial)
    )];
    let verdict_is = |verdict: FoundVerdict| found.claims.iter().any(|finding| finding.verdict == Some(verdict));
    if verdict_is(FoundVerdict::Undecided) {
        lines.push(
            "“Undecided” is about this trial, not about the treatments: it does not mean that they are alike."
                .to_owned(),
        );
    }
    if verdict_is(FoundVerdict::NeverTested) {
        lines.push("“Never tested” means that the condition of the question did not come; the figures are agronomy under the conditions that did.".to_owned());
    }
    if verdict_is(FoundVerdict::NoDifferenceThatMatters) {
        lines.push("“No difference that matters” holds for the margin that was set before seeding; with another margin the answer may be another.".to_owned());
    }
    lines
}

/// Cautions: labels, local rules and licensed advice come first.
pub(crate) fn cautions(trial: &Dossier, found: &Findings) -> Vec<String> {
    let mut lines = vec![
        "Product labels, seed and inoculant instructions, crop-insurance dates, local rules and licensed advisers come before anything in this report.".to_owned(),
    ];
    if trial.plan.supply.is_some() {
        lines.push("Treated seed is for seeding only: wear what its label asks for, and keep what is left out of food and feed.".to_owned());
    }
    lines.extend(found.cautions.clone());
    lines
}
