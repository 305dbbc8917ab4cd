//! Data that a person may well bring: each is met with a named error or notice, never a panic or a number without meaning.

use guardrow_inference::generalised::{
    CountSpread, DispersionAdvice, FixedColumn, GeneralisedFit, GeneralisedModel, Grouping, Observed, ProportionLink,
    TreatmentState, fit,
};
use guardrow_inference::{InferenceError, Notice};

const PLOTS: usize = 12;

/// Three treatments in four blocks.
fn blocks(observed: Observed) -> GeneralisedModel {
    GeneralisedModel {
        observed,
        treatments: vec!["a".into(), "b".into(), "c".into()],
        treatment: (0..PLOTS).map(|plot| plot % 3).collect(),
        columns: Vec::new(),
        offset: None,
        groupings: vec![Grouping {
            name: "block".into(),
            class: (0..PLOTS).map(|plot| plot / 3).collect(),
            classes: 4,
        }],
    }
}

fn emerged() -> Vec<f64> {
    (0..PLOTS).map(|plot| (8 + (plot * 5) % 7 + plot % 3 * 3) as f64).collect()
}

fn of_forty(successes: Vec<f64>) -> Observed {
    Observed::Proportions { trials: vec![40.0; successes.len()], successes, link: ProportionLink::Logit }
}

fn counts(counts: Vec<f64>) -> Observed {
    Observed::Counts { counts, spread: CountSpread::Poisson }
}

fn with(index: usize, value: f64) -> Vec<f64> {
    let mut values = emerged();
    values[index] = value;
    values
}

fn refused(model: &GeneralisedModel) -> InferenceError {
    let error = fit(model).expect_err("this cannot be analysed");
    assert!(!error.help().is_empty() && !error.to_string().is_empty());
    error
}

fn accepted(model: &GeneralisedModel) -> GeneralisedFit {
    let fitted = fit(model).unwrap();
    assert!(fitted.notices.iter().all(|notice| !notice.sentence().is_empty()));
    fitted
}

#[test]
fn what_is_no_count_is_named_with_its_plot() {
    let what = || "count".to_owned();
    for (value, expected) in [
        (-1.0, InferenceError::NegativeCount { what: what(), plot: 4, value: -1.0 }),
        (7.5, InferenceError::NotWhole { what: what(), plot: 4, value: 7.5 }),
        (1e300, InferenceError::CountTooLarge { what: what(), plot: 4, value: 1e300 }),
        (f64::INFINITY, InferenceError::NotFinite { plot: 4, value: f64::INFINITY }),
    ] {
        assert_eq!(refused(&blocks(counts(with(4, value)))), expected);
        assert_eq!(refused(&blocks(of_forty(with(4, value)))), expected);
    }
    assert!(matches!(refused(&blocks(counts(with(4, f64::NAN)))), InferenceError::NotFinite { plot: 4, .. }));
}

#[test]
fn more_than_all_and_proportions_of_nothing_are_named() {
    let over = InferenceError::MoreThanAll { plot: 2, successes: 41.0, trials: 40.0 };
    assert_eq!(refused(&blocks(of_forty(with(2, 41.0)))), over);
    let mut trials = vec![40.0; PLOTS];
    trials[7] = 0.0;
    let observed = Observed::Proportions { successes: with(7, 0.0), trials, link: ProportionLink::Logit };
    assert_eq!(refused(&blocks(observed)), InferenceError::NoTrials { plot: 7 });
    // a proportion where the number was meant
    let shares = emerged().iter().map(|y| y / 40.0).collect();
    assert!(matches!(refused(&blocks(of_forty(shares))), InferenceError::NotWhole { plot: 0, .. }));
}

#[test]
fn lists_of_different_length_and_unknown_numbers_are_named() {
    let model = blocks(counts(emerged()));
    let short = GeneralisedModel { treatment: vec![0; 3], ..model.clone() };
    assert!(matches!(refused(&short), InferenceError::Length { found: 3, expected: PLOTS, .. }));
    let unknown = GeneralisedModel { treatment: vec![3; PLOTS], ..model.clone() };
    assert_eq!(refused(&unknown), InferenceError::UnknownTreatment { plot: 0, treatment: 3, treatments: 3 });
    let mut wrong_unit = model.clone();
    wrong_unit.groupings[0].class[5] = 9;
    let expected = InferenceError::UnknownClass { unit: "block".into(), plot: 5, class: 9, classes: 4 };
    assert_eq!(refused(&wrong_unit), expected);
    let offset = GeneralisedModel { offset: Some(vec![f64::NAN; PLOTS]), ..model.clone() };
    assert!(matches!(refused(&offset), InferenceError::NotFinite { plot: 0, .. }));
    let far = GeneralisedModel { offset: Some(vec![1e5; PLOTS]), ..model.clone() };
    refused(&far);
    let nothing = GeneralisedModel { treatment: Vec::new(), observed: counts(Vec::new()), ..model };
    assert_eq!(refused(&nothing), InferenceError::NoValues);
}

#[test]
fn nothing_or_everything_counted_anywhere_is_an_error() {
    assert_eq!(refused(&blocks(counts(vec![0.0; PLOTS]))), InferenceError::NothingCounted { observations: PLOTS });
    assert_eq!(refused(&blocks(of_forty(vec![0.0; PLOTS]))), InferenceError::NothingCounted { observations: PLOTS });
    assert_eq!(
        refused(&blocks(of_forty(vec![40.0; PLOTS]))),
        InferenceError::EverythingCounted { observations: PLOTS }
    );
}

#[test]
fn a_treatment_with_nothing_counted_is_told_apart_and_the_rest_is_as_without_it() {
    let values: Vec<f64> = emerged().iter().enumerate().map(|(plot, &y)| if plot % 3 == 1 { 0.0 } else { y }).collect();
    let fitted = accepted(&blocks(of_forty(values.clone())));
    assert!(fitted.notices.contains(&Notice::NothingCounted { treatment: "b".into() }));
    let means = fitted.means(0.05).unwrap();
    assert_eq!((means[1].state, means[1].link, means[1].mean), (TreatmentState::NothingCounted, None, Some(0.0)));
    // 160 seeds: the exact upper limit is 1 - 0.025^(1/160)
    assert!((means[1].upper.unwrap() - (1.0 - 0.025_f64.powf(1.0 / 160.0))).abs() < 1e-12);
    assert_eq!(fitted.contrast(&[1.0, -1.0, 0.0]), Err(InferenceError::AtEdge { treatment: "b".into() }));
    assert_eq!(fitted.wald(&[vec![1.0, -1.0, 0.0]]), Err(InferenceError::AtEdge { treatment: "b".into() }));
    let kept: Vec<usize> = (0..PLOTS).filter(|plot| plot % 3 != 1).collect();
    let mut without = blocks(of_forty(kept.iter().map(|&plot| values[plot]).collect()));
    without.treatment = kept.iter().map(|plot| plot % 3).collect();
    without.groupings[0].class = kept.iter().map(|plot| plot / 3).collect();
    let without = accepted(&without);
    assert_eq!(fitted.log_likelihood, without.log_likelihood);
    assert_eq!(fitted.contrast(&[1.0, 0.0, -1.0]), without.contrast(&[1.0, 0.0, -1.0]));
    assert_eq!(fitted.observations[1].fitted, 0.0);
}

#[test]
fn a_treatment_wholly_counted_has_a_lower_limit_only() {
    let values = emerged().iter().enumerate().map(|(plot, &y)| if plot % 3 == 2 { 40.0 } else { y }).collect();
    let fitted = accepted(&blocks(of_forty(values)));
    let mean = &fitted.means(0.05).unwrap()[2];
    assert_eq!((mean.state, mean.mean, mean.upper), (TreatmentState::EverythingCounted, Some(1.0), Some(1.0)));
    assert!((mean.lower.unwrap() - 0.025_f64.powf(1.0 / 160.0)).abs() < 1e-12);
}

#[test]
fn a_treatment_without_values_is_named() {
    let mut model = blocks(counts(emerged()));
    model.treatments.push("d".into());
    let fitted = accepted(&model);
    assert!(fitted.notices.contains(&Notice::TreatmentWithoutValues { treatment: "d".into() }));
    assert_eq!(fitted.contrast(&[1.0, 0.0, 0.0, -1.0]), Err(InferenceError::NotEstimable { treatment: "d".into() }));
}

#[test]
fn units_that_compare_nothing_are_left_out_by_name() {
    let mut model = blocks(counts(emerged()));
    let block = model.groupings[0].clone();
    model.groupings.push(Grouping { name: "site".into(), class: vec![0; PLOTS], classes: 1 });
    model.groupings.push(Grouping {
        name: "range".into(),
        class: block.class.iter().map(|it| 3 - it).collect(),
        classes: 4,
    });
    let fitted = accepted(&model);
    assert!(fitted.notices.contains(&Notice::OneUnit { stratum: "site".into() }));
    assert!(fitted.notices.contains(&Notice::SameUnits { stratum: "range".into() }));
    assert_eq!(fitted.components.len(), 1);
}

#[test]
fn comparisons_that_rest_on_units_which_differ_as_treatments_do_are_refused() {
    // two greenhouses, treatment c alone in the second
    let mut model = blocks(counts(emerged()));
    let house = (0..PLOTS).map(|plot| usize::from(plot % 3 == 2)).collect();
    model.groupings.push(Grouping { name: "house".into(), class: house, classes: 2 });
    let fitted = accepted(&model);
    assert!(fitted.notices.contains(&Notice::VarianceNotSeparable { stratum: "house".into() }));
    assert!(fitted.contrast(&[1.0, -1.0, 0.0]).is_ok());
    let unknown = InferenceError::NoErrorInStratum { stratum: "house".into() };
    assert_eq!(fitted.contrast(&[1.0, 0.0, -1.0]), Err(unknown));
}

#[test]
fn plots_with_one_trial_or_a_spread_of_their_own_get_no_second_effect() {
    let single: Vec<f64> = (0..PLOTS).map(|plot| f64::from(u8::from(plot % 5 < 2))).collect();
    let observed = Observed::Proportions { successes: single, trials: vec![1.0; PLOTS], link: ProportionLink::Logit };
    let clustered = Observed::Counts { counts: emerged(), spread: CountSpread::NegativeBinomial };
    for observed in [observed, clustered] {
        let mut model = blocks(observed);
        model.groupings.push(Grouping::each_observation("plot", PLOTS));
        let fitted = accepted(&model);
        assert!(fitted.notices.contains(&Notice::PlotVarianceNotSeen { stratum: "plot".into() }));
    }
}

#[test]
fn counts_that_vary_less_than_poisson_have_no_negative_binomial_spread() {
    let even = (0..PLOTS).map(|plot| (20 + plot % 3 * 5 + plot / 6) as f64).collect();
    let fitted = accepted(&blocks(Observed::Counts { counts: even, spread: CountSpread::NegativeBinomial }));
    assert_eq!(fitted.negative_binomial.unwrap().theta, None);
    assert!(fitted.notices.contains(&Notice::CountsVaryAsPoisson));
}

#[test]
fn columns_that_treatments_tell_and_columns_that_tell_everything_are_named() {
    let mut model = blocks(counts(emerged()));
    let of_treatment = (0..PLOTS).map(|plot| (plot % 3) as f64 * 2.5 + 1.0).collect();
    model.columns = vec![FixedColumn { name: "rate".into(), values: of_treatment }];
    assert_eq!(refused(&model), InferenceError::CollinearColumn { column: "rate".into() });
    model.columns[0].values = vec![7.0; PLOTS];
    assert_eq!(refused(&model), InferenceError::CollinearColumn { column: "rate".into() });
    model.columns[0].values[3] = f64::NAN;
    assert!(matches!(refused(&model), InferenceError::NotFinite { plot: 3, .. }));
    // nothing emerges in the second half of the field, whatever the treatment
    let values = emerged().iter().enumerate().map(|(plot, &y)| if plot < 6 { y } else { 0.0 }).collect();
    let mut model = blocks(of_forty(values));
    let half = (0..PLOTS).map(|plot| f64::from(u8::from(plot >= 6))).collect();
    model.columns = vec![FixedColumn { name: "half".into(), values: half }];
    assert!(matches!(refused(&model), InferenceError::Separated { .. }), "{:?}", refused(&model));
}

#[test]
fn units_with_all_or_nothing_are_named() {
    let values = (0..PLOTS).map(|plot| if plot / 3 % 2 == 0 { 0.0 } else { 40.0 }).collect();
    assert_eq!(refused(&blocks(of_forty(values))), InferenceError::AllOrNothing { stratum: "block".into() });
}

#[test]
fn a_covariate_of_any_size_is_carried() {
    let mut model = blocks(counts(emerged()));
    let values: Vec<f64> = (0..PLOTS).map(|plot| ((plot * 7) % 11) as f64).collect();
    model.columns = vec![FixedColumn { name: "x".into(), values: values.clone() }];
    let plain = accepted(&model);
    model.columns[0].values = values.iter().map(|x| 1e80 * x).collect();
    let large = accepted(&model);
    assert!((large.columns[0].slope * 1e80 - plain.columns[0].slope).abs() < 1e-9);
    assert!((large.log_likelihood - plain.log_likelihood).abs() < 1e-9);
}

#[test]
fn one_plot_of_each_treatment_leaves_the_error_of_counting_alone() {
    let mut model = blocks(counts(vec![5.0, 9.0, 14.0]));
    model.treatment.truncate(3);
    model.groupings.clear();
    let fitted = accepted(&model);
    assert!(fitted.notices.contains(&Notice::OnlyCountingError));
    assert_eq!(fitted.overdispersion.advice, DispersionAdvice::CannotTell);
    assert_eq!(fitted.overdispersion.p, None);
    assert!(matches!(
        fitted.with_estimated_dispersion(),
        Err(InferenceError::NoErrorDegreesOfFreedom { plots: 3, parameters: 3 })
    ));
}

#[test]
fn settings_and_weights_out_of_range_are_named() {
    let fitted = accepted(&blocks(counts(emerged())));
    assert!(matches!(fitted.means(0.7), Err(InferenceError::Setting { .. })));
    assert!(matches!(fitted.contrast(&[1.0, -1.0]), Err(InferenceError::Weights { .. })));
    assert!(matches!(fitted.contrast(&[1.0, f64::NAN, 0.0]), Err(InferenceError::Weights { .. })));
    let twice = vec![vec![1.0, -1.0, 0.0], vec![2.0, -2.0, 0.0]];
    assert!(matches!(fitted.wald(&twice), Err(InferenceError::Weights { .. })));
    assert!(matches!(fitted.wald_f(&twice[..1], -1.0), Err(InferenceError::Setting { .. })));
    assert!(matches!(fitted.quantile_residuals(&[0.5]), Err(InferenceError::Length { .. })));
    assert!(matches!(fitted.quantile_residuals(&[f64::NAN; PLOTS]), Err(InferenceError::Setting { .. })));
}
