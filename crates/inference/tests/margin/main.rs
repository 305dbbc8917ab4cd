//! One estimate against a margin: `tests/reference/against-a-margin/make_values.R`, published trials and what must agree.

use guardrow_inference::{AgainstMargin, Direction, Estimate, InferenceError};
use proptest::prelude::*;
use serde_json::Value;
use std::path::Path;

fn golden() -> Vec<Value> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/against-a-margin/expected.json");
    let all: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    all["rows"].as_array().unwrap().clone()
}

fn close(found: f64, expected: f64, allowed: f64, what: &str) {
    assert!((found - expected).abs() <= allowed, "{what}: {found} for {expected}");
}

#[test]
fn intervals_and_tests_are_those_of_r() {
    let rows = golden();
    assert_eq!(rows.len(), 140);
    for row in &rows {
        let number = |key: &str| row[key].as_f64().unwrap_or_else(|| panic!("{key} in {row}"));
        let df = row["df"].as_f64().unwrap_or(f64::INFINITY);
        let estimate = Estimate { estimate: number("estimate"), se: number("se"), df };
        let margin = number("margin");
        let said = estimate.against_margin(margin, number("level")).unwrap();
        let what = row.to_string();
        for (ours, key) in [
            (said.lower, "lower"),
            (said.upper, "upper"),
            (said.equivalence.lower, "narrow_lower"),
            (said.equivalence.upper, "narrow_upper"),
        ] {
            close(ours, number(key), 1e-10 * (1.0 + number(key).abs()), &what);
        }
        for (ours, key) in [
            (said.p_direction, "p_direction"),
            (said.p_above_by_margin, "p_above_by_margin"),
            (said.p_below_by_margin, "p_below_by_margin"),
            (said.equivalence.p_above, "p_no_loss"),
            (said.equivalence.p_below, "p_no_gain"),
        ] {
            close(ours, number(key), 1e-10 * number(key), &what);
        }
        let level = number("level");
        assert_eq!(said.direction != Direction::Open, number("p_direction") < level, "{what}");
        assert_eq!(said.above_by_margin, number("p_above_by_margin") < 0.5 * level, "{what}");
        assert_eq!(said.below_by_margin, number("p_below_by_margin") < 0.5 * level, "{what}");
        assert_eq!(said.no_loss_that_matters, number("p_no_loss") < level, "{what}");
        assert_eq!(said.no_gain_that_matters, number("p_no_gain") < level, "{what}");
    }
}

fn any_estimate() -> impl Strategy<Value = Estimate> {
    (-5.0..5.0_f64, 0.05..3.0_f64, prop_oneof![1.0..60.0_f64, Just(f64::INFINITY)])
        .prop_map(|(estimate, se, df)| Estimate { estimate, se, df })
}

fn mirrored(said: &AgainstMargin) -> [bool; 4] {
    [said.below_by_margin, said.above_by_margin, said.no_gain_that_matters, said.no_loss_that_matters]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(500) })]

    #[test]
    fn what_is_said_agrees_with_itself(estimate in any_estimate(), margin in 0.1..3.0_f64, level in 0.01..0.3_f64) {
        let said = estimate.against_margin(margin, level).unwrap();
        prop_assert_eq!(said.equivalence.equivalent, said.no_loss_that_matters && said.no_gain_that_matters);
        prop_assert!(!said.equivalence.equivalent || said.equivalence.reachable);
        // beyond the margin is beyond zero, and never smaller than the margin
        prop_assert!(!said.above_by_margin || said.direction == Direction::Above && !said.no_gain_that_matters);
        prop_assert!(!said.below_by_margin || said.direction == Direction::Below && !said.no_loss_that_matters);
        prop_assert!(said.lower < said.equivalence.lower && said.equivalence.upper < said.upper);
        // either a true value is above the margin or it is below: the two p are each other's rest
        prop_assert!((said.p_above_by_margin + said.equivalence.p_below - 1.0).abs() < 1e-12);
        prop_assert!((said.p_below_by_margin + said.equivalence.p_above - 1.0).abs() < 1e-12);
        let turned = Estimate { estimate: -estimate.estimate, ..estimate }.against_margin(margin, level).unwrap();
        let own = [said.above_by_margin, said.below_by_margin, said.no_loss_that_matters, said.no_gain_that_matters];
        prop_assert_eq!(mirrored(&turned), own);
        let unit = |it: f64| 1e6 * it;
        let other = Estimate { estimate: unit(estimate.estimate), se: unit(estimate.se), df: estimate.df };
        let other = other.against_margin(unit(margin), level).unwrap();
        prop_assert!((other.p_above_by_margin - said.p_above_by_margin).abs() < 1e-12);
    }
}

#[test]
fn closed_forms() {
    // one degree of freedom is Cauchy's distribution, two have an algebraic tail, infinitely many are normal
    let said = Estimate { estimate: 2.0, se: 1.0, df: 1.0 }.against_margin(1.0, 0.05).unwrap();
    close(said.p_above_by_margin, 0.25, 1e-14, "Cauchy above 1");
    close(said.equivalence.p_above, 0.5 - 3.0_f64.atan() / std::f64::consts::PI, 1e-14, "Cauchy above 3");
    let said = Estimate { estimate: 2.0, se: 1.0, df: 2.0 }.against_margin(1.0, 0.05).unwrap();
    close(said.p_above_by_margin, 0.5 - 0.5 / 3.0_f64.sqrt(), 1e-14, "two degrees of freedom");
    let said = Estimate { estimate: 1.959963984540054, se: 1.0, df: f64::INFINITY }.against_margin(1.0, 0.05).unwrap();
    close(said.p_direction, 0.05, 1e-14, "normal");
}

#[test]
fn an_estimate_at_the_edge_of_its_interval() {
    // L at the margin itself is "by at least the margin"; u at the margin is not below it
    let at = |estimate: f64| Estimate { estimate, se: 1.0, df: 10.0 };
    let margin = at(3.0).interval(0.05).0;
    assert!(at(3.0).against_margin(margin, 0.05).unwrap().above_by_margin);
    assert!(!at(3.0).against_margin(margin.next_up(), 0.05).unwrap().above_by_margin);
    let said = at(0.0).against_margin(at(0.0).half_width(0.1), 0.05).unwrap();
    assert!(!said.equivalence.equivalent && !said.equivalence.reachable);
}

#[test]
fn what_makes_no_sense_is_named() {
    let estimate = Estimate { estimate: 1.0, se: 0.5, df: 10.0 };
    let named = |estimate: Estimate, margin: f64, level: f64, expected: &str| {
        let Err(InferenceError::Setting { what, .. }) = estimate.against_margin(margin, level) else {
            panic!("{estimate:?} {margin} {level}");
        };
        assert_eq!(what, expected);
    };
    for margin in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        named(estimate, margin, 0.05, "the margin");
    }
    for level in [0.0, 0.5, f64::NAN] {
        named(estimate, 1.0, level, "the level");
    }
    for se in [0.0, -0.5, f64::NAN, f64::INFINITY] {
        named(Estimate { se, ..estimate }, 1.0, 0.05, "the standard error");
    }
    named(Estimate { estimate: f64::NAN, ..estimate }, 1.0, 0.05, "the estimate");
    named(Estimate { df: 0.0, ..estimate }, 1.0, 0.05, "the degrees of freedom");
}
