//! What the interaction gate says: the simple effects when it is shut, their largest difference when it is open.

use crate::figure::Figures;
use crate::gate::{Crossing, SimpleEffect};
use crate::sentence::{Judged, Telling, percent};
use crate::{EffectClass, Sidedness, Verdict};

/// Every simple effect over every factor or combination that shuts the gate.
pub(crate) fn gate_shut(telling: &Telling<'_>, crossings: &[Crossing], margin: f64) -> String {
    let told: Vec<String> = crossings
        .iter()
        .filter(|crossing| crossing.shut)
        .map(|crossing| {
            let over = crossing.factors.join(" and ");
            let effects: Vec<String> =
                crossing.effects.iter().map(|effect| simple_effect(telling, effect, margin)).collect();
            format!("it depends on {over}: {}; the average over {over} stands only in the table", effects.join("; "))
        })
        .collect();
    told.join("; ")
}

fn simple_effect(telling: &Telling<'_>, effect: &SimpleEffect, margin: f64) -> String {
    let judged =
        Judged { line: effect.line, verdict: verdict(effect, telling.sidedness), strength: effect.strength, margin };
    format!("at {}, {}", effect.at, telling.clause(&effect.numbers, &judged))
}

fn verdict(effect: &SimpleEffect, sidedness: Sidedness) -> Verdict {
    match (effect.line, effect.class, sidedness) {
        (2, ..) => Verdict::NoDifferenceThatMatters,
        (3, _, Sidedness::Directed) => Verdict::Supported,
        (3, EffectClass::Minus, _) => Verdict::SecondBetter,
        (3, ..) => Verdict::FirstBetter,
        (4 | 5, ..) => Verdict::Contradicted,
        _ => Verdict::Undecided,
    }
}

/// The largest difference between simple effects, and whether it could matter.
pub(crate) fn gate_open(telling: &Telling<'_>, crossings: &[Crossing], margin: f64) -> String {
    let by_size =
        |one: &&Crossing, other: &&Crossing| one.largest.numbers.estimate.total_cmp(&other.largest.numbers.estimate);
    let Some(crossing) = crossings.iter().max_by(by_size) else { return String::new() };
    let (largest, numbers) = (&crossing.largest, &crossing.largest.numbers);
    let shown = [numbers.estimate, numbers.interval.lower, numbers.interval.upper];
    let figures = Figures::new(numbers.se, &shown, &[0.0, margin, -margin]);
    let sign = |value: f64| format!("{}{}", if value < 0.0 { "-" } else { "" }, figures.size(value));
    let (unit, level) = (telling.unit, percent(numbers.interval.level));
    let excluded = if largest.reaches_margin { "; a difference between them that matters is not excluded" } else { "" };
    format!(
        "the largest difference between simple effects (at {} less at {}) is {} {unit} ({level} interval {} to {}){excluded}",
        largest.larger_at,
        largest.smaller_at,
        sign(numbers.estimate),
        sign(numbers.interval.lower),
        sign(numbers.interval.upper),
    )
}

/// The levels at which no difference that matters was out of reach, when the gate is shut.
pub(crate) fn out_of_reach(crossings: &[Crossing]) -> (Vec<&str>, bool) {
    let told: Vec<&SimpleEffect> =
        crossings.iter().filter(|crossing| crossing.shut).flat_map(|crossing| &crossing.effects).collect();
    let levels: Vec<&str> = told.iter().filter(|effect| !effect.reachable).map(|effect| effect.at.as_str()).collect();
    let all = levels.len() == told.len();
    (levels, all)
}
