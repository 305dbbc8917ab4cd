//! The chance of a decisive verdict, against power of the t test, exact values and simulation.

mod generator;

use generator::Generator;
use guardrow_findings::{Bounds, Estimate, PremiseStatus, Prospect, Sidedness, Verdict, judge_bounds, what_it_takes};

/// Degrees of freedom, noncentrality and power of the two-sided t test at 5 % (R 4.2.2, `pt` with `ncp`).
const POWER: [(f64, f64, f64); 5] = [
    (4.0, 0.6123724356957945, 0.0768490499604122),
    (6.0, 2.121320343559643, 0.42999755618011615),
    (4.0, 1.8371173070873834, 0.29319470030587347),
    (10.0, 2.598076211353316, 0.6495814802303647),
    (18.0, 4.47213595499958, 0.9881789885196618),
];

#[test]
fn with_a_vanishing_margin_the_chance_is_the_power_of_the_t_test() {
    for (df, noncentrality, power) in POWER {
        let prospect = Prospect { se: 1.0, df, margin: 1e-9, sidedness: Sidedness::Either, alpha: 0.05 };
        let chance = prospect.chance_of_decision(noncentrality);
        assert!((chance - power).abs() < 1e-6, "{df} df, noncentrality {noncentrality}: {chance} against {power}");
    }
}

#[test]
fn at_the_margin_a_very_precise_trial_decides_in_eleven_of_twenty() {
    // A true gain of exactly the margin: half of the estimates reach it (line 3), and the one-sided test against the
    // margin is wrong in 5 % (lines 2 and 5). No number of replicates changes that.
    let prospect = Prospect { se: 0.01, df: 40.0, margin: 1.0, sidedness: Sidedness::Directed, alpha: 0.05 };
    assert!((prospect.chance_of_decision(1.0) - 0.55).abs() < 1e-6);
}

#[test]
fn the_chance_agrees_with_simulated_trials() {
    let mut generator = Generator(41);
    for sidedness in [Sidedness::Directed, Sidedness::Either] {
        for (se, df) in [(0.3, 6), (0.55, 15), (0.9, 3)] {
            for truth in [-1.2, 0.0, 0.6, 1.7] {
                let prospect = Prospect { se, df: f64::from(df), margin: 1.0, sidedness, alpha: 0.05 };
                let share = simulated(&prospect, truth, df, &mut generator);
                let chance = prospect.chance_of_decision(truth);
                // Four standard errors of a share of 20 000 trials.
                let allowed = 4.0 * (chance * (1.0 - chance) / 20_000.0).sqrt() + 1e-4;
                assert!(
                    (share - chance).abs() < allowed,
                    "{sidedness:?}, se {se}, {df} df, truth {truth}: {share} against {chance}"
                );
            }
        }
    }
}

fn simulated(prospect: &Prospect, truth: f64, df: u32, generator: &mut Generator) -> f64 {
    let unit = Estimate { estimate: 0.0, se: 1.0, df: prospect.df };
    let template = Bounds::of(&unit, prospect.alpha).unwrap();
    let decided = (0..20_000).filter(|_| {
        let scatter: f64 = (0..df).map(|_| generator.normal().powi(2)).sum::<f64>() / f64::from(df);
        let (computed, estimate) = (prospect.se * scatter.sqrt(), truth + prospect.se * generator.normal());
        let mut bounds = Bounds { estimate, ..template };
        for interval in [&mut bounds.interval, &mut bounds.equivalence] {
            interval.lower = estimate + interval.lower * computed;
            interval.upper = estimate + interval.upper * computed;
        }
        let judged = judge_bounds(bounds, Some(prospect.margin), prospect.sidedness, PremiseStatus::NoneNeeded);
        judged.verdict != Some(Verdict::Undecided)
    });
    decided.count() as f64 / 20_000.0
}

#[test]
fn the_stated_replicates_are_the_fewest_that_give_four_chances_in_five() {
    let estimate = Estimate { estimate: 260.0, se: 170.0, df: 9.0 };
    let takes = what_it_takes(&estimate, 4, 250.0, Sidedness::Directed, 0.05).unwrap();
    let zero = takes.when_zero.unwrap();
    let chance = |count: usize| {
        let prospect = Prospect {
            se: 170.0 * (4.0 / count as f64).sqrt(),
            df: 3.0 * (count as f64 - 1.0),
            margin: 250.0,
            sidedness: Sidedness::Directed,
            alpha: 0.05,
        };
        prospect.chance_of_decision(0.0)
    };
    assert!(chance(zero) >= 0.8 && chance(zero - 1) < 0.8, "{zero}: {} {}", chance(zero), chance(zero - 1));
    assert_eq!(takes.when_as_estimated, None, "so near to the margin no number of replicates decides");
    assert_eq!(takes.replicates_now, 4);
}

#[test]
fn without_replicates_or_scatter_nothing_is_promised() {
    let takes = |se, replicates| {
        what_it_takes(&Estimate { estimate: 1.0, se, df: 9.0 }, replicates, 1.0, Sidedness::Directed, 0.05)
    };
    assert_eq!(takes(1.0, 1), None);
    assert_eq!(takes(0.0, 4), None);
    assert!(takes(1.0, 4).is_some());
}
