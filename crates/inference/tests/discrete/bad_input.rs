//! Values that cannot have been counted, and trials that leave nothing to compare: each a named error with its plot.

use crate::trial::{analysed, blocks, counts, shares};
use guardrow_inference::generalised::CountSpread;
use guardrow_inference::ordinal::ScoreLink;
use guardrow_inference::{DiscreteKind, Experiment, InferenceError, Notice};

fn trial(change: impl Fn(&mut Vec<Option<f64>>)) -> Experiment {
    let trial = blocks(4, &["a", "b", "c"]);
    let mut response: Vec<Option<f64>> = (0..12).map(|plot| Some(f64::from(3 + (plot * 5) % 7))).collect();
    change(&mut response);
    Experiment { response, ..trial }
}

fn with(plot: usize, value: f64) -> Experiment {
    trial(|response| response[plot] = Some(value))
}

fn refused(trial: &Experiment, kind: &DiscreteKind) -> InferenceError {
    analysed(trial, kind).expect_err("such values cannot be analysed")
}

#[test]
fn what_cannot_have_been_counted_is_named_with_its_plot() {
    assert!(matches!(refused(&with(4, 2.5), &counts()), InferenceError::NotWhole { plot: 4, value: 2.5, .. }));
    assert!(matches!(refused(&with(4, -1.0), &counts()), InferenceError::NegativeCount { plot: 4, .. }));
    assert!(matches!(refused(&with(4, f64::NAN), &counts()), InferenceError::NotFinite { plot: 4, .. }));
    assert!(matches!(refused(&with(4, f64::INFINITY), &counts()), InferenceError::NotFinite { plot: 4, .. }));
    assert!(matches!(refused(&with(4, 1e300), &counts()), InferenceError::CountTooLarge { plot: 4, .. }));
    let (over, of) = (with(7, 51.0), shares(50.0, 12));
    assert_eq!(refused(&over, &of), InferenceError::MoreThanAll { plot: 7, successes: 51.0, trials: 50.0 });
    assert_eq!(refused(&trial(|_| {}), &shares(0.0, 12)), InferenceError::NoTrials { plot: 0 });
    assert!(matches!(
        refused(&trial(|_| {}), &shares(50.0, 11)),
        InferenceError::Length { found: 11, expected: 12, .. }
    ));
    let searched = (0..12).map(|plot| Some(if plot == 3 { 0.0 } else { 1.0 })).collect();
    let kind = DiscreteKind::Counts { searched: Some(searched), spread: CountSpread::Poisson };
    assert_eq!(refused(&trial(|_| {}), &kind), InferenceError::NothingSearched { plot: 3, size: 0.0 });
}

#[test]
fn measurements_are_no_scores() {
    let trial = blocks(12, &["a", "b", "c"]);
    let response = (0..36).map(|plot| Some(f64::from(plot) + 0.5)).collect();
    let kind = DiscreteKind::Scores { link: ScoreLink::Logit };
    let found = refused(&Experiment { response, ..trial }, &kind);
    assert_eq!(found, InferenceError::TooManyScores { found: 36, most: 30 });
}

#[test]
fn without_differences_or_values_there_is_no_analysis() {
    let same = trial(|response| response.iter_mut().for_each(|value| *value = Some(0.0)));
    assert!(matches!(refused(&same, &counts()), InferenceError::ConstantResponse { .. }));
    let none = trial(|response| response.iter_mut().for_each(|value| *value = None));
    assert_eq!(refused(&none, &counts()), InferenceError::NoValues);
}

#[test]
fn counts_that_plots_of_one_treatment_share_are_told_by_their_number_alone() {
    // no variation within treatments: the plain values have no error, the counts still have that of counting
    let trial = trial(|response| {
        let each = [3.0, 8.0, 15.0];
        response.iter_mut().enumerate().for_each(|(plot, value)| *value = Some(each[plot % 3]));
    });
    let found = analysed(&trial, &counts()).unwrap();
    assert!(!found.has_error_df && found.notices.contains(&Notice::NoErrorDfOfCounts));
    assert!(found.tests[0].den_df.is_infinite() && found.tests[0].p < 1e-4);
}
