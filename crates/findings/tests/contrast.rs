//! From two sides of a comparison to weights over the treatments.

mod trial;

use guardrow_design::TreatmentStructure;
use guardrow_findings::{Comparison, Contrast, FindingError, Side, weights};
use trial::{factor, label, level, treatments};

fn check(first: Side, second: Side, expected: &[f64]) {
    assert_eq!(weights(&Comparison { first, second }, &treatments()).unwrap(), expected);
}

fn refused(first: Side, second: Side) -> FindingError {
    Contrast::find(&Comparison { first, second }, &treatments(), "question.claims[0].comparison").unwrap_err()
}

#[test]
fn levels_are_averaged_over_the_other_factors_and_controls_stay_out() {
    check(level("seeding date", "early"), level("seeding date", "late"), &[0.5, 0.5, -0.5, -0.5, 0.0]);
    check(level("row spacing", "wide"), level("row spacing", "narrow"), &[-0.5, 0.5, -0.5, 0.5, 0.0]);
}

#[test]
fn treatments_and_controls_go_by_their_labels() {
    check(label("early, wide"), label("unseeded"), &[0.0, 1.0, 0.0, 0.0, -1.0]);
    check(level("seeding date", "late"), label("unseeded"), &[0.0, 0.0, 0.5, 0.5, -1.0]);
}

#[test]
fn capitals_and_outer_spaces_do_not_matter() {
    check(level(" Seeding Date", "EARLY "), level("seeding date", "late"), &[0.5, 0.5, -0.5, -0.5, 0.0]);
}

#[test]
fn a_misspelt_name_is_refused_with_the_nearest_one_and_its_place() {
    let error = refused(level("seeding dat", "early"), level("seeding date", "late"));
    assert_eq!(error.to_string(), "the trial has no factor `seeding dat`; did you mean `seeding date`?");
    assert_eq!(error.place(), Some("question.claims[0].comparison.first.factor"));
    let error = refused(level("seeding date", "early"), level("seeding date", "lat"));
    assert_eq!(error.to_string(), "factor `seeding date` has no level `lat`; did you mean `late`?");
    assert_eq!(error.help(), "name one of: early; late");
    let error = refused(label("unsedeed"), label("early, wide"));
    assert_eq!(error.to_string(), "the trial has no treatment or control `unsedeed`; did you mean `unseeded`?");
    let error = refused(level("seeding date", "zzz"), level("seeding date", "late"));
    assert_eq!(error.to_string(), "factor `seeding date` has no level `zzz`");
}

#[test]
fn a_level_without_its_factor_is_told_which_factor_it_belongs_to() {
    let error = refused(label("narrow"), label("unseeded"));
    assert!(matches!(&error, FindingError::UnknownTreatment { level_of: Some(factor), .. } if factor == "row spacing"));
    assert!(error.help().contains("`row spacing`"));
}

#[test]
fn sides_that_are_alike_empty_or_of_two_factors_are_refused() {
    let alike = refused(level("seeding date", "early"), level("seeding date", "Early"));
    assert!(matches!(alike, FindingError::SidesAlike { .. }), "{alike}");
    let empty = refused(label(" "), label("unseeded"));
    assert!(matches!(empty, FindingError::SideEmpty { .. }), "{empty}");
    let two = refused(level("seeding date", "early"), level("row spacing", "wide"));
    assert!(matches!(two, FindingError::SidesOfTwoFactors { .. }), "{two}");
}

#[test]
fn a_level_and_the_treatment_of_the_same_plots_are_alike() {
    let one = TreatmentStructure { factors: vec![factor("variety", &["first", "second"])], controls: Vec::new() };
    let compare = |second| weights(&Comparison { first: level("variety", "first"), second }, &one);
    assert!(matches!(compare(label("first")), Err(FindingError::SidesAlike { .. })));
    assert_eq!(compare(label("second")).unwrap(), [1.0, -1.0]);
}
