//! The chain from cause to outcome: which links held, which broke, and whether rival explanations moved too.

use guardrow_agronomy::unit::Quantity;
use serde::{Deserialize, Serialize};

use crate::contrast::Contrast;
use crate::finding::{MeasureResult, Measures, Setting};
use crate::gate::numbers_of;
use crate::sentence::{Judged, Manner, Telling};
use crate::words::{NOT_SEPARATED, mid_sentence};
use crate::{
    Direction, FindingError, Judgement, Link, MarginInUnit, Numbers, PremiseStatus, Rival, Sidedness, Verdict,
    difference_symbol, judge_bounds, size_in_unit,
};

/// What the trial says about one link.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LinkState {
    /// The step is as expected, and as large as matters.
    Held,
    /// The step is missing, too small to matter, or the other way.
    Broken,
    /// The trial cannot tell.
    Open,
    /// There is nothing to judge it by.
    NotMeasured,
}

/// What the trial says about another explanation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum RivalState {
    /// Its own difference is decisive.
    MovedToo,
    /// No difference that would explain the outcome.
    Stayed,
    /// The trial cannot tell.
    Open,
    /// There is nothing to judge it by.
    NotMeasured,
}

/// A link or rival with the numbers it was judged by.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct StepFinding<State> {
    /// The step or the explanation, as it was written.
    pub step: String,
    /// Name of the measure; empty when none was planned.
    pub measure: String,
    /// Unit of the difference; empty when not measured.
    pub unit: String,
    /// First option minus second; absent when not measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub numbers: Option<Numbers>,
    /// The smallest step that matters; absent when none was set.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub smallest: Option<MarginInUnit>,
    /// What the trial says.
    pub state: State,
    /// Step and outcome in a sentence.
    pub sentence: String,
    /// The outcome alone, as the end of a sentence.
    pub outcome: String,
}

/// The chain of the main claim.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Chain {
    /// The links, from the cause to the outcome.
    pub links: Vec<StepFinding<LinkState>>,
    /// Index of the first link from the cause that is broken or not measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_gap: Option<usize>,
    /// The chain in a sentence.
    pub sentence: String,
}

/// What links and rivals are judged on: the main claim's comparison and the measures at hand.
pub(crate) struct Ground<'a> {
    pub contrast: &'a Contrast,
    pub first: &'a str,
    pub second: &'a str,
    pub measures: &'a Measures<'a>,
    pub setting: &'a Setting<'a>,
}

/// One step that was or was not judged.
enum Judging {
    NotMeasured(String),
    NoSize(String, Numbers),
    Done(Judgement, String, Numbers),
}

impl Ground<'_> {
    pub fn chain(
        &self,
        links: &[Link],
        rivals: &[StepFinding<RivalState>],
        premise: PremiseStatus,
    ) -> Result<Chain, FindingError> {
        let judged: Vec<StepFinding<LinkState>> =
            links.iter().enumerate().map(|(index, link)| self.link(index, link)).collect::<Result<_, _>>()?;
        let first_gap = judged.iter().position(|link| matches!(link.state, LinkState::Broken | LinkState::NotMeasured));
        let sentence = chain_sentence(&judged, first_gap, rivals, premise);
        Ok(Chain { links: judged, first_gap, sentence })
    }

    pub fn rivals(&self, rivals: &[Rival]) -> Result<Vec<StepFinding<RivalState>>, FindingError> {
        rivals.iter().enumerate().map(|(index, rival)| self.rival(index, rival)).collect()
    }

    fn link(&self, index: usize, link: &Link) -> Result<StepFinding<LinkState>, FindingError> {
        let place = format!("question.links[{index}].smallest");
        self.step(&link.step, &link.measure, link.direction, link.smallest, &place, link_state)
    }

    fn rival(&self, index: usize, rival: &Rival) -> Result<StepFinding<RivalState>, FindingError> {
        let place = format!("question.rivals[{index}].smallest");
        self.step(&rival.explanation, &rival.measure, Direction::Either, rival.smallest, &place, rival_state)
    }

    fn step<State>(
        &self,
        step: &str,
        key: &str,
        direction: Direction,
        smallest: Option<Quantity>,
        place: &str,
        state_of: impl Fn(&Judging) -> State,
    ) -> Result<StepFinding<State>, FindingError> {
        let measure = self.measures.get(key);
        let smallest = match (measure, smallest) {
            (Some(measure), Some(size)) => {
                Some(size_in_unit(size, measure.unit, &measure.name, place, self.setting.trade)?)
            }
            _ => None,
        };
        let judging = self.judge_step(key, measure, direction, smallest.as_ref());
        let numbers = match &judging {
            Judging::NotMeasured(_) => None,
            Judging::NoSize(_, numbers) | Judging::Done(_, _, numbers) => Some(*numbers),
        };
        let told = match &judging {
            Judging::NotMeasured(words) | Judging::NoSize(words, _) | Judging::Done(_, words, _) => words,
        };
        Ok(StepFinding {
            step: step.to_owned(),
            measure: measure.map(|measure| measure.name.clone()).unwrap_or_else(|| key.to_owned()),
            unit: measure.map(|measure| difference_symbol(measure.unit).to_owned()).unwrap_or_default(),
            numbers,
            smallest,
            state: state_of(&judging),
            sentence: if step.is_empty() { format!("{told}.") } else { format!("{step}: {told}.") },
            outcome: told.clone(),
        })
    }

    fn judge_step(
        &self,
        key: &str,
        measure: Option<&MeasureResult<'_>>,
        direction: Direction,
        smallest: Option<&MarginInUnit>,
    ) -> Judging {
        let Some(measure) = measure else {
            let why = if key.is_empty() { "no measure was planned for it" } else { "it was not measured" };
            return Judging::NotMeasured(why.to_owned());
        };
        let telling = Telling {
            first: self.first,
            second: self.second,
            measure: mid_sentence(&measure.name),
            unit: difference_symbol(measure.unit),
            sidedness: if direction == Direction::Either { Sidedness::Either } else { Sidedness::Directed },
            lower_is_as_claimed: direction == Direction::Lower,
            manner: Manner::Step,
        };
        let what = format!("the difference in {}", mid_sentence(&measure.name));
        let alpha = self.setting.level.alpha();
        let numbers = match numbers_of(measure.estimates, &self.contrast.weights(), alpha, &what) {
            Ok(numbers) => numbers,
            Err(error) => return Judging::NotMeasured(error.to_string()),
        };
        let Some(smallest) = smallest else {
            let words = "the smallest step that matters was not set";
            return Judging::NoSize(format!("{}; {words}", telling.estimate_only(&numbers)), numbers);
        };
        let bounds = numbers.bounds(telling.lower_is_as_claimed);
        let judgement = judge_bounds(bounds, Some(smallest.value), telling.sidedness, PremiseStatus::NoneNeeded);
        // A margin was given and no premise stands in the way, so there is a verdict.
        let verdict = judgement.verdict.unwrap_or(Verdict::Undecided);
        let judged = Judged { line: judgement.line, verdict, strength: judgement.strength, margin: smallest.value };
        let clause = telling.clause(&numbers, &judged);
        Judging::Done(judgement, clause, numbers)
    }
}

fn link_state(judging: &Judging) -> LinkState {
    match judging {
        Judging::NotMeasured(_) => LinkState::NotMeasured,
        Judging::NoSize(..) => LinkState::Open,
        Judging::Done(judgement, ..) => match judgement.verdict {
            Some(Verdict::Supported | Verdict::FirstBetter | Verdict::SecondBetter) => LinkState::Held,
            Some(Verdict::Contradicted | Verdict::NoDifferenceThatMatters) => LinkState::Broken,
            _ => LinkState::Open,
        },
    }
}

fn rival_state(judging: &Judging) -> RivalState {
    match judging {
        Judging::NotMeasured(_) => RivalState::NotMeasured,
        Judging::NoSize(..) => RivalState::Open,
        Judging::Done(judgement, ..) => match judgement.verdict {
            Some(Verdict::FirstBetter | Verdict::SecondBetter) => RivalState::MovedToo,
            Some(Verdict::NoDifferenceThatMatters) => RivalState::Stayed,
            _ => RivalState::Open,
        },
    }
}

fn chain_sentence(
    links: &[StepFinding<LinkState>],
    first_gap: Option<usize>,
    rivals: &[StepFinding<RivalState>],
    premise: PremiseStatus,
) -> String {
    if links.is_empty() {
        return "No steps between the cause and the outcome were written down.".to_owned();
    }
    let condition = match premise {
        PremiseStatus::DidNotOccur => "The premise did not occur, so the steps tell only what happened without it. ",
        PremiseStatus::CannotTell => "Whether the premise occurred cannot be told. ",
        PremiseStatus::Occurred | PremiseStatus::NoneNeeded => "",
    };
    let gap = match first_gap {
        None => String::new(),
        Some(index) if links[index].state == LinkState::Broken => {
            format!(
                "The first step from the cause that broke is step {}, {}. ",
                index + 1,
                mid_sentence(without_stop(&links[index].sentence))
            )
        }
        Some(index) => {
            format!("Step {} was not measured: {}. ", index + 1, mid_sentence(without_stop(&links[index].sentence)))
        }
    };
    let moved = moved_too(rivals);
    let mut sentence = format!("{condition}{gap}{}", without_stop(&tally(links)));
    if !moved.is_empty() {
        let moved: Vec<String> = moved.into_iter().map(mid_sentence).collect();
        sentence.push_str(&format!("; moved too: {}; {NOT_SEPARATED}", moved.join(", ")));
    }
    sentence.push('.');
    sentence
}

/// `Held: step 1 (...), step 2 (...); open: step 3 (...).`
fn tally(links: &[StepFinding<LinkState>]) -> String {
    let states = [
        (LinkState::Held, "held"),
        (LinkState::Broken, "broken"),
        (LinkState::Open, "open"),
        (LinkState::NotMeasured, "not measured"),
    ];
    let parts: Vec<String> = states
        .iter()
        .filter_map(|(state, word)| {
            let steps: Vec<String> = links
                .iter()
                .enumerate()
                .filter(|(_, link)| link.state == *state)
                .map(|(index, link)| format!("step {} ({})", index + 1, mid_sentence(&link.step)))
                .collect();
            (!steps.is_empty()).then(|| format!("{word}: {}", steps.join(", ")))
        })
        .collect();
    let text = parts.join("; ");
    text[..1].to_uppercase() + &text[1..]
}

/// The explanations that moved too.
pub(crate) fn moved_too(rivals: &[StepFinding<RivalState>]) -> Vec<&str> {
    rivals.iter().filter(|rival| rival.state == RivalState::MovedToo).map(|rival| rival.step.as_str()).collect()
}

fn without_stop(text: &str) -> &str {
    text.strip_suffix('.').unwrap_or(text)
}
