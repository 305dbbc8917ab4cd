//! Against R's metafor: `tests/reference/joined-trials/make_values.R`.

use crate::{close, golden, number, numbers, trials};
use guardrow_inference::meta::{JoinNotice, JoinedTrials, KnownErrors, TrialSummary, join_trials};
use serde_json::Value;

/// metafor's search ends when the variance changes by 1e-12 of that of the estimates; other numbers follow from it.
const VARIANCE: f64 = 1e-7;
const REST: f64 = 1e-7;

fn case(name: &str) -> (Vec<TrialSummary>, Value) {
    let all = golden("joined-trials");
    let case = all[name].clone();
    let df = numbers(&case["df"]);
    (trials(&numbers(&case["estimate"]), &numbers(&case["se"]), |index| Some(df[index])), case)
}

fn check_known(found: KnownErrors, expected: &Value, what: &str) {
    let se = number(expected, "se");
    close(found.estimate, number(expected, "estimate"), REST * se, what);
    close(found.se, se, REST * se, what);
    close(found.lower, number(expected, "lower"), REST * se, what);
    close(found.upper, number(expected, "upper"), REST * se, what);
}

fn check(name: &str) -> JoinedTrials {
    let (trials, expected) = case(name);
    let found = join_trials(&trials, 0.05).unwrap();
    let joined = &expected["joined"];
    let se = number(joined, "se");
    close(found.joined.estimate, number(joined, "estimate"), REST * se, name);
    close(found.joined.se, se, REST * se, name);
    close(found.lower, number(joined, "lower"), 10.0 * REST * se, name);
    close(found.upper, number(joined, "upper"), 10.0 * REST * se, name);
    close(found.p, number(joined, "p"), 1e-6 * number(joined, "p"), name);
    assert_eq!(found.joined.df, trials.len() as f64 - 1.0);
    check_known(found.by_own_errors, &expected["by_own_errors"], name);
    check_known(found.common, &expected["common"], name);

    let between = &expected["between"];
    let variance = number(between, "variance");
    close(found.between.variance, variance, VARIANCE * variance, name);
    close(found.between.sd, variance.sqrt(), VARIANCE * variance.sqrt(), name);
    for (key, ours) in [
        ("q", found.between.q),
        ("q_df", found.between.q_df),
        ("q_p", found.between.q_p),
        ("percent", found.between.percent),
        ("ratio", found.between.ratio),
    ] {
        close(ours, number(between, key), 1e-7 * number(between, key).abs(), &format!("{name}: {key}"));
    }
    assert_eq!(found.between.variance_se.is_some(), variance > 0.0, "{name}");
    if let Some(se) = found.between.variance_se {
        close(se, number(between, "variance_se"), 1e-6 * se, name);
    }
    assert_eq!(found.evidence.singular, variance == 0.0);
    assert!(found.evidence.gradient < 1e-9, "{:?}", found.evidence);
    close(found.log_likelihood, number(&expected, "log_likelihood"), 1e-8, name);
    for (trial, weight) in found.trials.iter().zip(numbers(&expected["weight"])) {
        close(trial.weight, weight, 1e-7, &trial.name);
    }
    if expected["new_trial"].is_object() {
        let new = found.new_trial.unwrap();
        close(new.lower, number(&expected["new_trial"], "lower"), 10.0 * REST * se, name);
        close(new.upper, number(&expected["new_trial"], "upper"), 10.0 * REST * se, name);
        for (trial, expected) in found.trials.iter().zip(expected["without"].as_array().unwrap()) {
            let rest = trial.without.unwrap();
            let (se, variance) = (number(expected, "se"), number(expected, "variance"));
            close(rest.joined.estimate, number(expected, "estimate"), REST * se, &trial.name);
            close(rest.joined.se, se, REST * se, &trial.name);
            close(rest.lower, number(expected, "lower"), 10.0 * REST * se, &trial.name);
            close(rest.upper, number(expected, "upper"), 10.0 * REST * se, &trial.name);
            close(rest.variance, variance, VARIANCE * variance, &trial.name);
            close(rest.distance, number(expected, "distance"), 1e-6, &trial.name);
        }
    }
    found
}

/// The interval of the variance, where R gives one.
fn check_limits(name: &str, found: &JoinedTrials) {
    let (_, expected) = case(name);
    let between = &expected["between"];
    for (ours, key) in [(found.between.lower, "lower"), (found.between.upper, "upper")] {
        close(ours.unwrap(), number(between, key), 1e-6 * number(between, key), &format!("{name}: {key}"));
    }
}

#[test]
fn seasons_that_differ() {
    let found = check("seven_seasons");
    check_limits("seven_seasons", &found);
    let few = vec!["3".to_owned(), "5".to_owned()];
    assert_eq!(found.notices, [JoinNotice::FewDegreesOfFreedom { trials: few, least: 6.0 }]);
    assert_eq!(found.cautious, None);
}

#[test]
fn trials_that_agree_better_than_their_errors() {
    let found = check("close_agreement");
    // R says that no variance is in the interval; so do we, by name
    assert_eq!((found.between.lower, found.between.upper), (None, None));
    let [JoinNotice::BetweenAtZero, JoinNotice::TooAlike { p }, JoinNotice::NarrowerThanOwnErrors, _] =
        &found.notices[..]
    else {
        panic!("{:?}", found.notices);
    };
    close(*p, 1.0 - found.between.q_p, 1e-12, "p");
    let cautious = found.cautious.unwrap();
    close(cautious.se, found.by_own_errors.se, 1e-12, "the trials' own errors");
    let (lower, upper) = cautious.interval(0.05);
    assert!(lower < found.by_own_errors.lower && found.by_own_errors.upper < upper);
    assert!(found.by_own_errors.lower < found.lower && found.upper < found.by_own_errors.upper);
}

#[test]
fn trials_that_differ_as_their_errors_make_them() {
    let found = check("no_variance_between");
    check_limits("no_variance_between", &found);
    assert_eq!(found.between.variance, 0.0);
    assert!(found.notices.contains(&JoinNotice::BetweenAtZero));
}

#[test]
fn three_sites_say_little_about_a_fourth() {
    let found = check("three_sites");
    check_limits("three_sites", &found);
    assert_eq!(found.notices, [JoinNotice::FewTrials { trials: 3 }]);
}

#[test]
fn two_sites_say_nothing_about_a_third() {
    let found = check("two_sites");
    check_limits("two_sites", &found);
    assert_eq!(found.new_trial, None);
    assert!(found.trials.iter().all(|trial| trial.without.is_none()));
    assert_eq!(found.notices[..2], [JoinNotice::NoPrediction { trials: 2 }, JoinNotice::FewTrials { trials: 2 }]);
}

#[test]
fn one_trial_known_a_thousand_times_better() {
    check_limits("one_exact_trial", &check("one_exact_trial"));
}

#[test]
fn trials_far_apart() {
    check_limits("far_apart", &check("far_apart"));
}
