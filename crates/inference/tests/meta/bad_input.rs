//! Summaries that cannot be joined are named with their trial.

use crate::trials;
use guardrow_inference::meta::{JoinError, JoinNotice, TrialSummary, join_trials};

fn three() -> Vec<TrialSummary> {
    trials(&[3.0, 4.5, 1.0], &[1.0, 1.2, 0.8], |_| Some(15.0))
}

fn refused(change: impl FnOnce(&mut Vec<TrialSummary>)) -> JoinError {
    let mut trials = three();
    change(&mut trials);
    let error = join_trials(&trials, 0.05).expect_err("cannot be joined");
    assert!(!error.help().is_empty() && !error.to_string().is_empty());
    error
}

#[test]
fn one_trial_or_none_is_nothing_to_join() {
    assert_eq!(refused(|it| it.truncate(1)), JoinError::TooFewTrials { trials: 1 });
    assert_eq!(refused(Vec::clear), JoinError::TooFewTrials { trials: 0 });
}

#[test]
fn a_trial_counted_twice() {
    assert_eq!(refused(|it| it[2].name = "1".into()), JoinError::TrialTwice { trial: "1".into() });
}

#[test]
fn numbers_that_are_no_summary() {
    let named = |error: JoinError, expected: &str| {
        let JoinError::NotUsable { trial, what, .. } = error else { panic!("{error:?}") };
        assert_eq!((trial.as_str(), what.as_str()), ("2", expected));
    };
    for se in [0.0, -0.0, -1.0, f64::NAN, f64::INFINITY, 1e300, 1e-300] {
        named(refused(|it| it[1].se = se), "standard error");
    }
    for estimate in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300, -1e300] {
        named(refused(|it| it[1].estimate = estimate), "estimate");
    }
    for df in [0.0, -3.0, f64::NAN] {
        named(refused(|it| it[1].df = Some(df)), "degrees of freedom");
    }
}

#[test]
fn a_standard_error_in_another_unit() {
    let error = refused(|it| it[0].se = 1e-13);
    assert_eq!(error, JoinError::ErrorTooSmall { trial: "1".into(), se: 1e-13, beside: 3.5 });
}

#[test]
fn levels_outside_their_range() {
    for level in [0.0, 0.5, -0.1, 1e-10, f64::NAN] {
        assert!(matches!(join_trials(&three(), level), Err(JoinError::Level { .. })));
    }
}

#[test]
fn trials_with_the_same_estimate_have_the_error_of_their_own() {
    let same = trials(&[0.1 + 0.2; 4], &[1.0, 2.0, 1.5, 0.5], |_| None);
    let found = join_trials(&same, 0.05).unwrap();
    assert!(found.notices.contains(&JoinNotice::EstimatesTheSame), "{:?}", found.notices);
    let weight: f64 = [1.0, 2.0, 1.5, 0.5].iter().map(|se: &f64| se.powi(-2)).sum();
    assert!((found.joined.se - weight.powf(-0.5)).abs() < 1e-12);
    assert!(
        found.notices.contains(&JoinNotice::DegreesOfFreedomNotTold {
            trials: ["1", "2", "3", "4"].map(str::to_owned).to_vec()
        })
    );
}

#[test]
fn every_notice_is_a_sentence() {
    let names = || vec!["north".to_owned(), "south".to_owned()];
    let all = [
        JoinNotice::NoPrediction { trials: 2 },
        JoinNotice::FewTrials { trials: 3 },
        JoinNotice::BetweenAtZero,
        JoinNotice::SeveralMaxima { maxima: 2 },
        JoinNotice::NarrowerThanOwnErrors,
        JoinNotice::EstimatesTheSame,
        JoinNotice::TooAlike { p: 1e-9 },
        JoinNotice::FewDegreesOfFreedom { trials: names(), least: 5.0 / 3.0 },
        JoinNotice::DegreesOfFreedomNotTold { trials: names() },
        JoinNotice::RestsOnOneTrial { trials: names() },
    ];
    for notice in &all {
        assert!(notice.sentence().ends_with('.'), "{}", notice.sentence());
    }
    assert_eq!(
        all[9].sentence(),
        "The direction rests on one trial: without 'north' (or without 'south') it would not be sure."
    );
    assert!(all[7].sentence().contains("(1.667 at the least"));
}
