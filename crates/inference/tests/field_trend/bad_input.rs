//! Fields that cannot be: each is refused with a reason, nothing panics.

use crate::trial::{invented, run, unit};
use guardrow_inference::{FieldLead, FieldPositions, FieldTrend, InferenceError, Options, field_trend};

#[test]
fn positions_that_do_not_fit_the_plots() {
    let (experiment, places) = invented(1, 0.5);
    let tried = |places: &FieldPositions| field_trend(&experiment, places, &Options::default()).unwrap_err();
    let short = FieldPositions::new(places.range[1..].to_vec(), places.pass.clone());
    assert!(matches!(tried(&short), InferenceError::Length { found: 31, expected: 32, .. }));
    let mut twice = places.clone();
    (twice.range[5], twice.pass[5]) = (twice.range[4], twice.pass[4]);
    assert!(matches!(tried(&twice), InferenceError::PlotsShareUnit { first: 4, second: 5, .. }));
}

#[test]
fn several_fields_at_once() {
    let (mut experiment, places) = invented(1, 0.5);
    experiment.blocks = unit("site").nest(experiment.blocks);
    experiment.units.push(("site".into(), (0..32).map(|plot| plot / 16).collect()));
    experiment.environments = vec!["site".into()];
    let error = field_trend(&experiment, &places, &Options::default()).unwrap_err();
    assert_eq!(error, InferenceError::SeveralFields { unit: "site".into() });
    assert!(!error.help().is_empty());
}

#[test]
fn a_field_of_one_range_and_a_field_of_one_place_each() {
    let (experiment, _) = invented(1, 0.5);
    let row = FieldPositions::new(vec![1; 32], (1..=32).collect());
    let result = run(&experiment, &row);
    let names: Vec<&str> = result.models.models.iter().map(|it| it.name.as_str()).collect();
    assert_eq!(names, ["as randomised", "smooth trend", "autoregression", "autoregression and independent errors"]);
}

#[test]
fn few_plots_are_led_by_the_randomisation() {
    let (mut experiment, places) = invented(1, 0.95);
    experiment.response.iter_mut().skip(20).for_each(|value| *value = None);
    let result = run(&experiment, &places);
    assert_eq!(result.lead, FieldLead::AsRandomised);
    let weights: Vec<f64> = (0..8).map(|it| [1.0, -1.0].get(it).copied().unwrap_or(0.0)).collect();
    assert_eq!(result.leading_contrast(&weights), result.as_randomised.contrast(&weights));
}

#[test]
fn a_result_read_back_says_the_same_and_refuses_new_questions() {
    let (experiment, places) = invented(2, 0.8);
    let result = run(&experiment, &places);
    let text = serde_json::to_string(&result).expect("it can be written");
    let back: FieldTrend = serde_json::from_str(&text).expect("it can be read");
    assert_eq!(back.models.reason, result.models.reason);
    assert_eq!(back.tables[0].cells.len(), result.tables[0].cells.len());
    assert_eq!(back.contrast(&[1.0; 8]), Err(InferenceError::FitNotKept));
}
