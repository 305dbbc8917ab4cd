//! The interaction gate on stated simple effects, and over several factors.

mod trial;

use guardrow_design::TreatmentStructure;
use guardrow_findings::{
    Bounds, Direction, EffectClass, Estimate, GateRule, PremiseStatus, Sidedness, class_of, find, judge_levels,
};
use trial::{Means, factor, main_finding, means, question, setting, treatments, yields};

const DIRECTED: GateRule =
    GateRule { margin: 1.0, sidedness: Sidedness::Directed, alpha: 0.05, lower_is_as_claimed: false };
const EITHER: GateRule = GateRule { sidedness: Sidedness::Either, ..DIRECTED };

fn bounds(estimate: f64, se: f64) -> Bounds {
    Bounds::of(&Estimate { estimate, se, df: 20.0 }, 0.025).unwrap()
}

/// Which of two levels shut the gate, given the class of the average.
fn shuts(effects: [f64; 2], average: EffectClass, rule: &GateRule) -> [bool; 2] {
    let outcomes = judge_levels(&effects.map(|effect| bounds(effect, 0.1)), average, rule);
    [outcomes[0].shuts, outcomes[1].shuts]
}

#[test]
fn a_simple_effect_is_classed_by_its_line() {
    use EffectClass::{Minus, Open, Plus, Zero};
    for (estimate, se, directed, either) in [
        (3.0, 0.1, Plus, Plus),
        (-3.0, 0.1, Minus, Minus),
        (0.0, 0.1, Zero, Zero),
        (-0.9, 0.15, Minus, Open),
        (-1.0, 0.6, Zero, Open),
        (0.5, 1.0, Open, Open),
    ] {
        assert_eq!(class_of(bounds(estimate, se), &DIRECTED), directed, "{estimate} directed");
        assert_eq!(class_of(bounds(estimate, se), &EITHER), either, "{estimate} without direction");
    }
}

#[test]
fn a_level_that_decides_otherwise_than_the_average_shuts_the_gate() {
    use EffectClass::{Minus, Open, Plus, Zero};
    for (effects, average, rule, expected) in [
        ([3.0, 0.0], Plus, DIRECTED, [false, true]),
        ([3.0, 0.0], Open, DIRECTED, [true, false]),
        ([3.0, -3.0], Zero, DIRECTED, [true, true]),
        ([-3.0, 0.0], Minus, DIRECTED, [false, false]),
        ([-3.0, 0.0], Minus, EITHER, [false, true]),
        ([3.0, 2.5], Plus, DIRECTED, [false, false]),
    ] {
        assert_eq!(shuts(effects, average, &rule), expected, "{effects:?} with an average of {average:?}");
    }
}

#[test]
fn a_level_nearer_to_the_others_than_the_margin_never_shuts_the_gate() {
    // Without the distance of a margin, + beside an average that is not + is no other decision.
    assert_eq!(shuts([1.4, 0.6], EffectClass::Open, &DIRECTED), [false, false]);
    assert_eq!(shuts([1.5, 0.5], EffectClass::Open, &DIRECTED), [true, false]);
}

#[test]
fn simple_effects_have_intervals_for_their_number() {
    let finding = main_finding(&question(Direction::Higher), &means(520.0, 480.0, 60.0), PremiseStatus::Occurred);
    let gate = finding.gate.unwrap();
    let crossing = &gate.crossings[0];
    assert_eq!(crossing.factors, ["row spacing"]);
    let effects: Vec<f64> = crossing.effects.iter().map(|effect| effect.numbers.estimate).collect();
    assert_eq!(effects, [520.0, 480.0]);
    assert!((crossing.effects[0].numbers.interval.level - 0.975).abs() < 1e-12);
    assert!((crossing.effects[0].from_the_others - 40.0).abs() < 1e-9);
    assert!((crossing.largest.numbers.interval.level - 0.95).abs() < 1e-12);
}

#[test]
fn a_comparison_that_averages_over_nothing_has_no_gate() {
    let structure =
        TreatmentStructure { factors: vec![factor("seeding date", &["early", "late"])], ..Default::default() };
    let results = Means { means: vec![3500.0, 3000.0], se_of_mean: 60.0, df: 12.0 };
    let question = question(Direction::Higher);
    let findings = find(&question, &structure, &yields(&results), &setting(PremiseStatus::Occurred)).unwrap();
    assert_eq!(findings.claims[0].gate, None);
    assert!(!findings.claims[0].sentence.contains("Averaged"), "{}", findings.claims[0].sentence);
}

#[test]
fn every_factor_and_combination_that_is_averaged_over_is_looked_at() {
    let mut structure = treatments();
    structure.controls.clear();
    structure.factors.push(factor("inoculant", &["none", "peat", "liquid"]));
    // Twelve treatments; early gains only with liquid inoculant at narrow rows.
    let mut values = vec![3000.0; 12];
    values[2] = 4200.0;
    let results = Means { means: values, se_of_mean: 60.0, df: 30.0 };
    let question = question(Direction::Higher);
    let findings = find(&question, &structure, &yields(&results), &setting(PremiseStatus::Occurred)).unwrap();
    let gate = findings.claims[0].gate.as_ref().unwrap();
    let looked_at: Vec<(Vec<String>, usize)> =
        gate.crossings.iter().map(|crossing| (crossing.factors.clone(), crossing.effects.len())).collect();
    let named = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<String>>();
    assert_eq!(
        looked_at,
        [(named(&["row spacing"]), 2), (named(&["inoculant"]), 3), (named(&["row spacing", "inoculant"]), 6)]
    );
    assert!(gate.shut_by.contains(&"row spacing narrow, inoculant liquid".to_owned()), "{:?}", gate.shut_by);
    assert!(gate.shut);
}
