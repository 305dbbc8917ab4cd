//! Seasons that cannot be: each is refused with a reason, nothing panics.

use crate::case::Case;
use crate::trial::{read, run, unit};
use guardrow_inference::{Experiment, InferenceError, Occasions, Options, Scope, repeated};

fn refused(experiment: &Experiment, occasions: &Occasions) -> InferenceError {
    let error = repeated(experiment, occasions, &Options::default()).expect_err("it is refused");
    assert!(!error.help().is_empty() && !error.to_string().is_empty());
    error
}

fn season() -> (Experiment, Occasions) {
    read(&Case::open("repeated-measures"))
}

#[test]
fn occasions_that_do_not_fit() {
    let (experiment, occasions) = season();
    let mut one = occasions.clone();
    one.visits.truncate(1);
    assert!(matches!(refused(&experiment, &one), InferenceError::Setting { .. }));
    let mut short = occasions.clone();
    short.visits[2].response.pop();
    assert!(matches!(refused(&experiment, &short), InferenceError::Length { found: 19, expected: 20, .. }));
    let mut turned = occasions.clone();
    turned.visits.swap(1, 3);
    assert!(matches!(refused(&experiment, &turned), InferenceError::Setting { .. }));
    let mut half = occasions.clone();
    half.visits[4].day = None;
    assert!(matches!(refused(&experiment, &half), InferenceError::Setting { .. }));
    let mut endless = occasions;
    endless.visits[4].day = Some(f64::INFINITY);
    assert!(matches!(refused(&experiment, &endless), InferenceError::Setting { .. }));
}

#[test]
fn a_unit_of_the_same_name_and_places_that_stand_for_others() {
    let (mut experiment, occasions) = season();
    experiment.blocks = unit("occasion").nest(unit("plot"));
    experiment.units[0].0 = "occasion".into();
    assert_eq!(refused(&experiment, &occasions), InferenceError::UnknownUnit { unit: "occasion".into() });
    let (mut experiment, occasions) = season();
    experiment.environments = vec!["block".into()];
    experiment.scope = Scope::EnvironmentsLikeThese;
    let expected = InferenceError::OccasionsInSampledPlaces { unit: "block".into() };
    assert_eq!(refused(&experiment, &occasions), expected);
}

#[test]
fn plots_that_were_visited_once_each() {
    let (experiment, mut occasions) = season();
    occasions.visits.truncate(2);
    for plot in 0..20 {
        occasions.visits[plot / 10].response[plot] = None;
    }
    assert!(matches!(
        refused(&experiment, &occasions),
        InferenceError::Setting { .. } | InferenceError::NoErrorDegreesOfFreedom { .. }
    ));
}

#[test]
fn an_occasion_without_values_and_a_treatment_that_came_late() {
    let (experiment, mut occasions) = season();
    occasions.visits[1].response.iter_mut().for_each(|it| *it = None);
    for plot in 0..20 {
        if experiment.treatment[plot] == 2 {
            occasions.visits[0].response[plot] = None;
        }
    }
    let result = run(&experiment, &occasions);
    assert_eq!(result.within_occasions.len(), 4);
    assert_eq!(result.within_occasions[0].cells.len(), 3);
    assert!(result.by_occasion[1].why_not.is_some() && result.over_time.slopes_differ.is_none());
    let late = result.over_time.trends.iter().find(|it| it.treatment.as_deref() == Some("c")).unwrap();
    assert_eq!(late.trend.scores.len(), 3);
}

#[test]
fn two_occasions_only() {
    let (experiment, mut occasions) = season();
    occasions.visits.truncate(2);
    let result = run(&experiment, &occasions);
    assert_eq!(result.models.models.len(), 6);
    assert!(result.models.models.iter().all(|it| it.why_not.is_none()), "{:?}", result.models.models);
}
