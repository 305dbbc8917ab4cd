//! What holds for any trials.

use crate::{close, trials};
use guardrow_inference::distribution::chi_square_quantile;
use guardrow_inference::meta::{JoinNotice, JoinedTrials, TrialSummary, join_trials};
use proptest::prelude::*;

/// Trials with estimates over a range of up to 100 and errors over four decades.
fn any_trials() -> impl Strategy<Value = Vec<TrialSummary>> {
    let trial = (-50.0..50.0_f64, -2.0..2.0_f64, 1.0..40.0_f64);
    prop::collection::vec(trial, 2..12).prop_map(|all| {
        let (mut estimates, mut errors, mut df) = (Vec::new(), Vec::new(), Vec::new());
        for (estimate, se, own) in all {
            estimates.push(estimate);
            errors.push(10f64.powf(se));
            df.push(own.round());
        }
        trials(&estimates, &errors, |index| Some(df[index]))
    })
}

/// The restricted log-likelihood by the textbook's formula.
fn log_likelihood(trials: &[TrialSummary], between: f64) -> f64 {
    let variances: Vec<f64> = trials.iter().map(|it| it.se.powi(2) + between).collect();
    let weight: f64 = variances.iter().map(|v| 1.0 / v).sum();
    let mean = trials.iter().zip(&variances).map(|(it, v)| it.estimate / v).sum::<f64>() / weight;
    let squares: f64 = trials.iter().zip(&variances).map(|(it, v)| (it.estimate - mean).powi(2) / v).sum();
    let logs: f64 = variances.iter().map(|v| v.ln()).sum();
    let constants = (trials.len() - 1) as f64 * (2.0 * std::f64::consts::PI).ln();
    -0.5 * (constants + logs + weight.ln() + squares)
}

/// Cochran's Q with a variance between trials added to every weight's.
fn q(trials: &[TrialSummary], between: f64) -> f64 {
    let weights: Vec<f64> = trials.iter().map(|it| 1.0 / (it.se.powi(2) + between)).collect();
    let pairs = (0..trials.len()).flat_map(|i| (0..i).map(move |j| (i, j)));
    let squares = pairs.map(|(i, j)| weights[i] * weights[j] * (trials[i].estimate - trials[j].estimate).powi(2));
    squares.sum::<f64>() / weights.iter().sum::<f64>()
}

/// What an estimate may differ by: its error, or the precision of numbers of its size.
fn slack(all: &JoinedTrials) -> f64 {
    1e-7 * all.by_own_errors.se + 1e-10
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(300) })]

    #[test]
    fn no_variance_is_more_likely(trials in any_trials(), decades in -8.0..5.0_f64) {
        let found = join_trials(&trials, 0.05).unwrap();
        let top = log_likelihood(&trials, found.between.variance);
        close(found.log_likelihood, top, 1e-7 * (1.0 + top.abs()), "log-likelihood");
        for other in [0.0, 10f64.powf(decades), found.between.variance * 1.01, found.between.variance * 0.99] {
            prop_assert!(log_likelihood(&trials, other) <= top + 1e-7 * (1.0 + top.abs()), "{other}");
        }
        // where it is not at the edge, the mean square of weighted residuals agrees with the likelihood's slope of zero
        prop_assert!(found.evidence.gradient < 1e-6, "{:?}", found.evidence);
    }

    #[test]
    fn order_origin_unit_and_sign_do_not_matter(trials in any_trials(), shift in -1e3..1e3_f64, decades in -30.0..30.0_f64) {
        let plain = join_trials(&trials, 0.05).unwrap();
        let unit = -10f64.powf(decades);
        let turned: Vec<TrialSummary> = trials
            .iter()
            .rev()
            .map(|it| TrialSummary { estimate: unit * (it.estimate + shift), se: -unit * it.se, ..it.clone() })
            .collect();
        let turned = join_trials(&turned, 0.05).unwrap();
        // a shift of a thousand costs digits of the estimates
        let allowed = slack(&plain) + 1e-9;
        close(turned.joined.estimate / unit - shift, plain.joined.estimate, 100.0 * allowed, "mean");
        close(turned.upper / unit - shift, plain.lower, 1e4 * allowed, "end");
        close((turned.between.variance / unit / unit).sqrt(), plain.between.sd, 1e-4 * plain.by_own_errors.se + 1e-6, "sd");
        close(turned.between.percent, plain.between.percent, 1e-2, "percent");
        close(turned.trials[0].weight, plain.trials.last().unwrap().weight, 1e-4, "weight");
    }

    #[test]
    fn intervals_hold_what_they_must(trials in any_trials()) {
        let found = join_trials(&trials, 0.05).unwrap();
        prop_assert!(found.lower <= found.joined.estimate && found.joined.estimate <= found.upper);
        let weights: f64 = found.trials.iter().map(|it| it.weight).sum();
        close(weights, 1.0, 1e-9, "weights");
        if let Some(new) = found.new_trial {
            prop_assert!(new.lower <= found.lower && found.upper <= new.upper);
        }
        match (found.between.lower, found.between.upper) {
            (Some(lower), Some(upper)) => {
                prop_assert!(0.0 <= lower && lower <= upper);
                // by definition: Q at either end is a quantile of chi-square
                let df = trials.len() as f64 - 1.0;
                for (end, p) in [(lower, 0.975), (upper, 0.025)] {
                    let (at, quantile) = (q(&trials, end), chi_square_quantile(p, df));
                    prop_assert!((at - quantile).abs() < 1e-6 * quantile || end == 0.0 && at <= quantile, "{end}: {at}");
                }
            }
            other => {
                prop_assert_eq!(other, (None, None));
                let is_told = found.notices.iter().any(|it| matches!(it, JoinNotice::TooAlike { .. }));
                prop_assert!(is_told);
            }
        }
        let half = 0.5 * (found.by_own_errors.upper - found.by_own_errors.lower);
        prop_assert_eq!(found.cautious.is_some(), found.joined.half_width(0.05) < half);
        // every number is one
        let json = serde_json::to_string(&found).unwrap();
        let back: JoinedTrials = serde_json::from_str(&json).expect("no number was lost on the way");
        prop_assert_eq!(back, found);
    }

    #[test]
    fn trials_known_alike_are_a_sample(estimates in prop::collection::vec(-10.0..10.0_f64, 2..20), se in 0.1..3.0_f64) {
        // closed form: with one error for all, mean and Hartung-Knapp error are those of a plain sample, whatever the variance
        let found = join_trials(&trials(&estimates, &vec![se; estimates.len()], |_| None), 0.05).unwrap();
        let n = estimates.len() as f64;
        let mean = estimates.iter().sum::<f64>() / n;
        let variance = estimates.iter().map(|it| (it - mean).powi(2)).sum::<f64>() / (n - 1.0);
        close(found.joined.estimate, mean, 1e-12, "mean");
        close(found.joined.se, (variance / n).sqrt(), 1e-12, "error");
        close(found.between.variance, (variance - se * se).max(0.0), 1e-9, "variance");
        close(found.between.q, (n - 1.0) * variance / (se * se), 1e-9 * found.between.q, "Q");
    }
}

#[test]
fn a_likelihood_with_two_tops_is_told() {
    // three exact trials that agree and three vague ones far away: no variance between trials, or a large one
    let estimates = [0.0, 0.02, -0.02, 40.0, -42.0, 41.0, -39.0, 43.0];
    let errors = [0.02, 0.02, 0.02, 20.0, 20.0, 20.0, 20.0, 20.0];
    let all = trials(&estimates, &errors, |_| Some(20.0));
    let found = join_trials(&all, 0.05).unwrap();
    let step = 1.02_f64;
    let grid: Vec<f64> = (0..1500).map(|at| log_likelihood(&all, 1e-8 * step.powi(at))).collect();
    let inner = grid.windows(3).filter(|it| it[1] > it[0] && it[1] > it[2]).count();
    let at_edge = usize::from(grid[0] > grid[1]);
    let told = found.notices.iter().find_map(|it| match it {
        JoinNotice::SeveralMaxima { maxima } => Some(*maxima),
        _ => None,
    });
    assert_eq!(told.unwrap_or(1), inner + at_edge, "{found:?}");
    assert!(inner + at_edge > 1, "the example has two tops");
    let best = grid.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    assert!(found.log_likelihood >= best - 1e-9);
}

#[test]
fn a_result_that_rests_on_one_trial_is_told() {
    let all = trials(&[2.0, 2.4, 1.7, 2.2], &[0.3, 0.3, 0.3, 0.3], |_| Some(20.0));
    let sure = join_trials(&all, 0.05).unwrap();
    assert!(sure.lower > 0.0 && !sure.notices.iter().any(|it| matches!(it, JoinNotice::RestsOnOneTrial { .. })));
    let all = trials(&[1.0, 3.2, 2.1], &[0.3, 0.3, 0.3], |_| Some(20.0));
    let open = join_trials(&all, 0.2).unwrap();
    assert!(open.lower > 0.0);
    let named = open.trials.iter().filter(|it| it.without.unwrap().lower < 0.0).map(|it| it.name.clone()).collect();
    assert!(open.notices.contains(&JoinNotice::RestsOnOneTrial { trials: named }), "{:?}", open.notices);
}
