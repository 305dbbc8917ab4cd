//! What holds of the table of verdicts for any estimate, and its agreement with one-sided tests.

use std::collections::BTreeSet;

use guardrow_findings::{Estimate, FindingError, PremiseStatus, Sidedness, Strength, TestLevel, Verdict, judge};
use proptest::prelude::*;
use statrs::distribution::{ContinuousCDF, StudentsT};

fn judged(estimate: f64, se: f64, df: f64, margin: f64, sidedness: Sidedness) -> guardrow_findings::Judgement {
    let estimate = Estimate { estimate, se, df };
    judge(&estimate, Some(margin), sidedness, PremiseStatus::Occurred, TestLevel::FivePercent).unwrap()
}

/// Lines 2 to 6 as regions that exclude each other, written without an order.
fn regions(judgement: &guardrow_findings::Judgement, margin: f64) -> [bool; 5] {
    let (d, interval, equivalence) =
        (judgement.bounds.estimate, judgement.bounds.interval, judgement.bounds.equivalence);
    let within = equivalence.lower > -margin && equivalence.upper < margin;
    let as_claimed = interval.lower > 0.0 && d >= margin;
    let other_way = interval.upper < 0.0;
    [
        within,
        as_claimed,
        other_way && equivalence.lower <= -margin,
        !other_way && equivalence.upper < margin && equivalence.lower <= -margin,
        equivalence.upper >= margin && !as_claimed,
    ]
}

prop_compose! {
    fn any_case()(
        d in -5.0..5.0_f64, log_se in -4.0..2.0_f64, df in 1.0..200.0_f64, margin in 0.05..4.0_f64,
    ) -> (f64, f64, f64, f64) {
        (d, log_se.exp(), df, margin)
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3_000))]

    #[test]
    fn exactly_one_line_applies_to_any_estimate((d, se, df, margin) in any_case()) {
        let judgement = judged(d, se, df, margin, Sidedness::Directed);
        let regions = regions(&judgement, margin);
        prop_assert_eq!(regions.iter().filter(|region| **region).count(), 1, "{:?}", regions);
        prop_assert!(regions[usize::from(judgement.line) - 2], "line {} but {:?}", judgement.line, regions);
    }

    #[test]
    fn a_claim_and_its_reverse_are_never_both_supported((d, se, df, margin) in any_case()) {
        let forward = judged(d, se, df, margin, Sidedness::Directed);
        let backward = judged(-d, se, df, margin, Sidedness::Directed);
        prop_assert_eq!(forward.line == 2, backward.line == 2);
        prop_assert_eq!(forward.reachable, backward.reachable);
        if forward.verdict == Some(Verdict::Supported) {
            prop_assert_eq!(backward.line, 4);
            prop_assert_eq!(forward.strength, backward.strength);
        }
    }

    #[test]
    fn the_unit_does_not_matter((d, se, df, margin) in any_case(), scale in prop::sample::select(vec![0.25, 8.0, 1024.0])) {
        for sidedness in [Sidedness::Directed, Sidedness::Either] {
            let one = judged(d, se, df, margin, sidedness);
            let other = judged(d * scale, se * scale, df, margin * scale, sidedness);
            prop_assert_eq!(
                (one.line, one.verdict, one.strength, one.reachable),
                (other.line, other.verdict, other.strength, other.reachable)
            );
        }
    }

    // Duality of interval and test: the 90 % interval lies within the margin exactly when both one-sided tests against
    // it have p < 0.05 (Schuirmann 1987, J. Pharmacokinet. Biopharm. 15:657-680).
    #[test]
    fn equivalence_and_direction_agree_with_their_tests((d, se, df, margin) in any_case()) {
        let judgement = judged(d, se, df, margin, Sidedness::Directed);
        let t = StudentsT::new(0.0, 1.0, df).unwrap();
        let (p_above, p_below) = (t.sf((d + margin) / se), t.cdf((d - margin) / se));
        prop_assume!((p_above - 0.05).abs() > 1e-9 && (p_below - 0.05).abs() > 1e-9);
        prop_assert_eq!(judgement.line == 2, p_above.max(p_below) < 0.05);
        let p_zero = 2.0 * t.sf((d / se).abs());
        prop_assume!((p_zero - 0.05).abs() > 1e-9);
        prop_assert_eq!(judgement.line == 3, p_zero < 0.05 && d >= margin && judgement.line != 2);
        prop_assert_eq!(judgement.line == 4, p_zero < 0.05 && d < 0.0 && judgement.line != 2);
    }

    #[test]
    fn no_difference_is_said_only_where_it_was_in_reach((d, se, df, margin) in any_case()) {
        for sidedness in [Sidedness::Directed, Sidedness::Either] {
            let judgement = judged(d, se, df, margin, sidedness);
            if judgement.verdict == Some(Verdict::NoDifferenceThatMatters) {
                prop_assert_eq!(judgement.reachable, Some(true));
            }
        }
    }
}

#[test]
fn every_line_is_reached_by_some_estimate() {
    let mut lines = BTreeSet::new();
    for se in [0.1, 0.4, 1.0] {
        for step in -30..=30 {
            lines.insert(judged(f64::from(step) / 10.0, se, 12.0, 1.0, Sidedness::Directed).line);
        }
    }
    assert_eq!(lines, BTreeSet::from([2, 3, 4, 5, 6]));
}

/// Difference, SE, df, margin; p of two one-sided tests and the 90 % interval by R 4.2.2.
struct ReferenceCase {
    name: &'static str,
    numbers: [f64; 4],
    p: f64,
    interval: [f64; 2],
}

// Plant dry weights (Dobson 1983; R datasets PlantGrowth) and rice yields at seeding rates (Gomez & Gomez 1984, page 26),
// computed in R 4.2.2 from `aov` residual variances with `pt` and `qt`.
const REFERENCE: [ReferenceCase; 4] = [
    ReferenceCase {
        name: "dry weight, first treatment, margin 1.0",
        numbers: [-0.37100000000000044, 0.27878160840554955, 27.0, 1.0],
        p: 0.016179821764631078,
        interval: [-0.8458454924770036, 0.1038454924770027],
    },
    ReferenceCase {
        name: "dry weight, second treatment, margin 1.0",
        numbers: [0.4939999999999998, 0.27878160840554955, 27.0, 1.0],
        p: 0.04032112298278566,
        interval: [0.019154507522996633, 0.9688454924770029],
    },
    ReferenceCase {
        name: "dry weight, first treatment, margin 0.5",
        numbers: [-0.37100000000000044, 0.27878160840554955, 27.0, 0.5],
        p: 0.3236336416599036,
        interval: [-0.8458454924770036, 0.1038454924770027],
    },
    ReferenceCase {
        name: "rice yield, 100 less 75 kg seed/ha, margin 500",
        numbers: [-456.5, 235.11530268265304, 15.0, 500.0],
        p: 0.42784758820050595,
        interval: [-868.6689649965917, -44.3310350034082],
    },
];

#[test]
fn published_cases_have_the_interval_and_the_equivalence_that_r_computes() {
    for ReferenceCase { name, numbers: [d, se, df, margin], p, interval } in REFERENCE {
        let judgement = judged(d, se, df, margin, Sidedness::Directed);
        let equivalence = judgement.bounds.equivalence;
        assert!((equivalence.lower / interval[0] - 1.0).abs() < 1e-8, "{name}: {equivalence:?}");
        assert!((equivalence.upper / interval[1] - 1.0).abs() < 1e-8, "{name}: {equivalence:?}");
        assert_eq!(judgement.line == 2, p < 0.05, "{name}");
    }
}

#[test]
fn screening_at_ten_percent_uses_ninety_and_eighty_percent_intervals() {
    let estimate = Estimate { estimate: 1.9, se: 1.0, df: 20.0 };
    let at = |level| judge(&estimate, Some(1.0), Sidedness::Directed, PremiseStatus::NoneNeeded, level).unwrap();
    // Quantiles of t with 20 df, one-sided 5 %: 1.7247; 2.5 %: 2.0860 (printed tables).
    assert_eq!(at(TestLevel::FivePercent).line, 6);
    assert_eq!(at(TestLevel::TenPercent).strength, Some(Strength::DirectionSure));
    let bounds = at(TestLevel::TenPercent).bounds;
    assert!((bounds.interval.level - 0.90).abs() < 1e-12 && (bounds.equivalence.level - 0.80).abs() < 1e-12);
    assert!((bounds.interval.lower - (1.9 - 1.7247)).abs() < 1e-4);
}

#[test]
fn an_estimate_or_margin_that_cannot_be_used_is_refused() {
    let judge_with = |estimate, se, df, margin| {
        let estimate = Estimate { estimate, se, df };
        judge(&estimate, margin, Sidedness::Directed, PremiseStatus::Occurred, TestLevel::FivePercent)
    };
    for (estimate, se, df) in [(f64::NAN, 1.0, 5.0), (1.0, -1.0, 5.0), (1.0, f64::INFINITY, 5.0), (1.0, 1.0, 0.0)] {
        let result = judge_with(estimate, se, df, Some(1.0));
        assert!(matches!(result, Err(FindingError::NoInterval { .. })), "{estimate} {se} {df}");
    }
    for margin in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let result = judge_with(1.0, 1.0, 5.0, Some(margin));
        assert!(matches!(result, Err(FindingError::MarginNotPositive { .. })), "{margin}");
    }
}
