//! The interaction gate: an average over other factors may stand alone only if it hides no decision.

use serde::{Deserialize, Serialize};

use crate::contrast::Contrast;
use crate::gate_sentence::{gate_open, gate_shut};
use crate::sentence::Telling;
use crate::{Bounds, Estimates, FindingError, Numbers, PremiseStatus, Sidedness, Strength, Verdict, judge_bounds};

/// What a simple effect, or the average, decides.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum EffectClass {
    /// As claimed, and as large as matters (or: the first option is better).
    Plus,
    /// The other way (or: the second option is better).
    Minus,
    /// No gain that matters.
    Zero,
    /// Not decided.
    Open,
}

/// The difference at one level, or combination of levels, of what the comparison averages over.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct SimpleEffect {
    /// Where: `row spacing narrow`.
    pub at: String,
    /// The difference there; its intervals allow for the number of levels.
    pub numbers: Numbers,
    /// What it decides.
    pub class: EffectClass,
    /// Line of the table of verdicts.
    pub line: u8,
    /// How strongly it may be told.
    pub strength: Option<Strength>,
    /// Whether no difference that matters could have been shown there.
    pub reachable: bool,
    /// This difference minus the mean of the differences at the other levels.
    pub from_the_others: f64,
    /// Whether it shuts the gate.
    pub shuts: bool,
}

/// The largest difference between two simple effects.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct LargestDifference {
    /// Where the larger simple effect is.
    pub larger_at: String,
    /// Where the smaller one is.
    pub smaller_at: String,
    /// The larger minus the smaller, with its plain interval.
    pub numbers: Numbers,
    /// Whether its interval reaches the margin.
    pub reaches_margin: bool,
}

/// The simple effects over one factor, or one combination of factors, that the comparison averages over.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Crossing {
    /// The factors.
    pub factors: Vec<String>,
    /// One simple effect per level or combination.
    pub effects: Vec<SimpleEffect>,
    /// The largest difference between two of them.
    pub largest: LargestDifference,
    /// Whether one of them shuts the gate.
    pub shut: bool,
}

/// Whether an average may stand alone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct GateResult {
    /// True when the simple effects must be told instead of the average.
    pub shut: bool,
    /// The levels that shut it.
    pub shut_by: Vec<String>,
    /// Every factor and combination that was looked at, single factors first.
    pub crossings: Vec<Crossing>,
    /// The outcome in a sentence: the simple effects when the gate is shut, else their largest difference.
    pub sentence: String,
}

/// The rule that simple effects are judged by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GateRule {
    /// The smallest difference worth acting on, above zero.
    pub margin: f64,
    /// Whether the claim says which option is better.
    pub sidedness: Sidedness,
    /// Risk of the tests, a share; each of k simple effects is judged at a k-th of it.
    pub alpha: f64,
    /// Whether a lower value is what is claimed.
    pub lower_is_as_claimed: bool,
}

/// What the gate makes of one level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelOutcome {
    /// What the simple effect decides.
    pub class: EffectClass,
    /// Whether it differs from the mean of the others by the margin and decides otherwise than the average.
    pub shuts: bool,
}

/// What bounds that are oriented as claimed decide.
pub fn class_of(bounds: Bounds, rule: &GateRule) -> EffectClass {
    let judged = judge_bounds(bounds, Some(rule.margin), rule.sidedness, PremiseStatus::NoneNeeded);
    match (judged.line, judged.verdict) {
        (3, Some(Verdict::SecondBetter)) | (4, _) => EffectClass::Minus,
        (3, _) => EffectClass::Plus,
        (2 | 5, _) => EffectClass::Zero,
        _ => EffectClass::Open,
    }
}

/// The gate on simple effects that are oriented as claimed and carry intervals at the risk `alpha / k`.
pub fn judge_levels(effects: &[Bounds], average: EffectClass, rule: &GateRule) -> Vec<LevelOutcome> {
    effects
        .iter()
        .enumerate()
        .map(|(index, effect)| {
            let class = class_of(*effect, rule);
            let far = distance_from_others(effects, index).abs() >= rule.margin;
            LevelOutcome { class, shuts: far && decides_otherwise(class, average, rule.sidedness) }
        })
        .collect()
}

fn decides_otherwise(class: EffectClass, average: EffectClass, sidedness: Sidedness) -> bool {
    match class {
        EffectClass::Plus | EffectClass::Minus => class != average,
        EffectClass::Zero => {
            average == EffectClass::Plus || (average == EffectClass::Minus && sidedness == Sidedness::Either)
        }
        EffectClass::Open => false,
    }
}

fn distance_from_others(effects: &[Bounds], index: usize) -> f64 {
    let total: f64 = effects.iter().map(|effect| effect.estimate).sum();
    let own = effects[index].estimate;
    own - (total - own) / (effects.len() as f64 - 1.0)
}

/// Judges whether the average of a comparison over the other factors may stand alone.
///
/// - `average`: the numbers of the comparison itself
///
/// Returns `None` when the comparison averages over nothing.
/// # Errors
/// [`FindingError::NotEstimable`] when a simple effect cannot be told from the plots at hand.
pub(crate) fn gate(
    contrast: &Contrast,
    estimates: &dyn Estimates,
    average: &Numbers,
    rule: &GateRule,
    telling: &Telling<'_>,
) -> Result<Option<GateResult>, FindingError> {
    let average = class_of(average.bounds(rule.lower_is_as_claimed), rule);
    let crossings: Vec<Crossing> = subsets(&contrast.crossed())
        .iter()
        .map(|factors| crossing(contrast, estimates, factors, average, rule))
        .collect::<Result<_, _>>()?;
    if crossings.is_empty() {
        return Ok(None);
    }
    let shutting = crossings.iter().flat_map(|crossing| &crossing.effects).filter(|effect| effect.shuts);
    let shut_by: Vec<String> = shutting.map(|effect| effect.at.clone()).collect();
    let shut = !shut_by.is_empty();
    let sentence =
        if shut { gate_shut(telling, &crossings, rule.margin) } else { gate_open(telling, &crossings, rule.margin) };
    Ok(Some(GateResult { shut, shut_by, crossings, sentence }))
}

/// All non-empty subsets, small ones first, each in the given order.
fn subsets(factors: &[usize]) -> Vec<Vec<usize>> {
    let mut subsets: Vec<Vec<usize>> = (1..1usize << factors.len())
        .map(|mask| (0..factors.len()).filter(|bit| mask >> bit & 1 == 1).map(|bit| factors[bit]).collect())
        .collect();
    subsets.sort_by_key(Vec::len);
    subsets
}

/// Every combination of levels of `factors`, the first factor changing slowest.
fn combinations(contrast: &Contrast, factors: &[usize]) -> Vec<Vec<(usize, usize)>> {
    factors.iter().fold(vec![Vec::new()], |heads, &factor| {
        let levels = contrast.structure().factors[factor].levels.len();
        heads
            .iter()
            .flat_map(|head| (0..levels).map(move |level| [head.as_slice(), &[(factor, level)]].concat()))
            .collect()
    })
}

fn crossing(
    contrast: &Contrast,
    estimates: &dyn Estimates,
    factors: &[usize],
    average: EffectClass,
    rule: &GateRule,
) -> Result<Crossing, FindingError> {
    let levels = combinations(contrast, factors);
    let risk = rule.alpha / levels.len() as f64;
    let weights: Vec<Vec<f64>> = levels.iter().map(|held| contrast.weights_at(held)).collect();
    let names: Vec<String> = levels.iter().map(|held| at(contrast, held)).collect();
    let numbers: Vec<Numbers> = weights
        .iter()
        .zip(&names)
        .map(|(weights, name)| numbers_of(estimates, weights, risk, &format!("the difference at {name}")))
        .collect::<Result<_, _>>()?;
    let bounds: Vec<Bounds> = numbers.iter().map(|numbers| numbers.bounds(rule.lower_is_as_claimed)).collect();
    let outcomes = judge_levels(&bounds, average, rule);
    let shown: Vec<Bounds> = numbers.iter().map(|numbers| numbers.bounds(false)).collect();
    let effects: Vec<SimpleEffect> = (0..levels.len())
        .map(|index| {
            let judged = judge_bounds(bounds[index], Some(rule.margin), rule.sidedness, PremiseStatus::NoneNeeded);
            SimpleEffect {
                at: names[index].clone(),
                numbers: numbers[index],
                class: outcomes[index].class,
                line: judged.line,
                strength: judged.strength,
                reachable: bounds[index].could_show_equivalence(rule.margin),
                from_the_others: distance_from_others(&shown, index),
                shuts: outcomes[index].shuts,
            }
        })
        .collect();
    let largest = largest_difference(estimates, &effects, &weights, rule)?;
    let names = factors.iter().map(|&factor| contrast.structure().factors[factor].name.clone()).collect();
    let shut = effects.iter().any(|effect| effect.shuts);
    Ok(Crossing { factors: names, effects, largest, shut })
}

fn largest_difference(
    estimates: &dyn Estimates,
    effects: &[SimpleEffect],
    weights: &[Vec<f64>],
    rule: &GateRule,
) -> Result<LargestDifference, FindingError> {
    let by_size =
        |one: &usize, other: &usize| effects[*one].numbers.estimate.total_cmp(&effects[*other].numbers.estimate);
    // A factor has at least two levels, so there are two effects.
    let larger = (0..effects.len()).max_by(by_size).unwrap_or(0);
    let smaller = (0..effects.len()).filter(|&index| index != larger).min_by(by_size).unwrap_or(0);
    let between: Vec<f64> = weights[larger].iter().zip(&weights[smaller]).map(|(one, other)| one - other).collect();
    let numbers = numbers_of(estimates, &between, rule.alpha, "the difference between simple effects")?;
    Ok(LargestDifference {
        larger_at: effects[larger].at.clone(),
        smaller_at: effects[smaller].at.clone(),
        reaches_margin: numbers.interval.upper >= rule.margin,
        numbers,
    })
}

pub(crate) fn numbers_of(
    estimates: &dyn Estimates,
    weights: &[f64],
    alpha: f64,
    what: &str,
) -> Result<Numbers, FindingError> {
    let estimate =
        estimates.difference(weights).map_err(|why| FindingError::NotEstimable { what: what.to_owned(), why })?;
    Numbers::of(&estimate, alpha)
}

fn at(contrast: &Contrast, held: &[(usize, usize)]) -> String {
    let words: Vec<String> = held
        .iter()
        .map(|&(factor, level)| {
            let factor = &contrast.structure().factors[factor];
            format!("{} {}", factor.name, factor.levels[level].label)
        })
        .collect();
    words.join(", ")
}
