//! Covariates that cannot be adjusted for, or should not be.

use crate::{change, randomised_blocks, run, split_plot, value};
use guardrow_inference::{Covariate, Experiment, InferenceError, Lead, Notice};

fn covariate(name: &str, values: impl Iterator<Item = f64>) -> Covariate {
    Covariate { name: name.into(), unit: None, values: values.map(Some).collect() }
}

/// Blocks of four treatments with a covariate without pattern.
fn with(covariates: Vec<Covariate>) -> Experiment {
    change(randomised_blocks(4, 5), |it| it.covariates = covariates)
}

fn stand() -> Covariate {
    covariate("stand", (0..20).map(|plot| value(plot * 3 + 1)))
}

#[test]
fn a_constant_covariate_is_refused() {
    let flat = with(vec![covariate("stand", std::iter::repeat_n(0.1 + 0.2, 20))]);
    assert_eq!(run(&flat), Err(InferenceError::CovariateConstant { covariate: "stand".into(), value: 0.1 + 0.2 }));
}

#[test]
fn a_covariate_that_is_the_treatment_is_refused() {
    let same = with(vec![covariate("rate", (0..20).map(|plot| 1.7 * (plot % 4) as f64))]);
    assert_eq!(run(&same), Err(InferenceError::CovariateFollowsTreatments { covariate: "rate".into() }));
}

#[test]
fn covariates_that_follow_from_one_another_are_refused() {
    let twice = covariate("stand twice", stand().values.into_iter().flatten().map(|it| 2.0 * it + 30.0));
    let refused = run(&with(vec![stand(), twice]));
    let expected =
        InferenceError::CovariateFollowsOthers { covariate: "stand twice".into(), others: vec!["stand".into()] };
    assert_eq!(refused, Err(expected));
    assert_eq!(run(&with(vec![stand(), stand()])), Err(InferenceError::CovariateTwice { covariate: "stand".into() }));
}

#[test]
fn a_covariate_that_differs_between_blocks_only_is_used_through_them() {
    let of_blocks = with(vec![covariate("slope of the field", (0..20).map(|plot| value(plot / 4)))]);
    let analysis = run(&of_blocks).unwrap();
    assert_eq!(analysis.lead, Lead::Mixed);
    assert!(analysis.covariates[0].slope.is_some_and(|slope| slope.df < 5.0), "{:?}", analysis.covariates);
}

#[test]
fn missing_values_of_a_covariate_leave_their_plots_out() {
    let gaps = change(with(vec![stand()]), |it| {
        it.covariates[0].values[3] = None;
        it.covariates[0].values[9] = None;
        it.response[9] = None;
    });
    let analysis = run(&gaps).unwrap();
    assert_eq!((analysis.plots_used, analysis.plots_missing.as_slice()), (18, &[3, 9][..]));
    assert!(analysis.notices.contains(&Notice::CovariateMissing { covariate: "stand".into(), plots: 1 }));
    assert!(analysis.notices.contains(&Notice::MissingPlots { plots: 1 }));
    let none = change(with(vec![stand()]), |it| it.covariates[0].values = vec![None; 20]);
    assert_eq!(run(&none), Err(InferenceError::NoValues));
}

#[test]
fn values_of_a_covariate_that_are_no_numbers_name_their_plot() {
    for wrong in [f64::NAN, f64::INFINITY, 1e300] {
        let odd = change(with(vec![stand()]), |it| it.covariates[0].values[7] = Some(wrong));
        let refused = run(&odd);
        assert!(matches!(refused, Err(InferenceError::CovariateNotFinite { plot: 7, .. })), "{refused:?}");
    }
    let short = change(with(vec![stand()]), |it| it.covariates[0].values.truncate(19));
    assert!(matches!(run(&short), Err(InferenceError::Length { found: 19, expected: 20, .. })));
}

#[test]
fn a_covariate_that_treatments_moved_is_warned_of() {
    let moved = covariate("stand", (0..20).map(|plot| 40.0 * (plot % 4) as f64 + value(plot * 3 + 1)));
    let analysis = run(&with(vec![moved])).unwrap();
    assert!(analysis.notices.iter().any(|it| matches!(it, Notice::CovariateAffected { p, .. } if *p < 0.01)));
    assert!(analysis.covariates[0].affected[0].p < 0.01);
}

#[test]
fn slopes_that_differ_between_treatments_are_warned_of() {
    let different = change(with(vec![stand()]), |it| {
        for plot in 0..20 {
            let stand = it.covariates[0].values[plot].unwrap();
            it.response[plot] = Some(0.01 * value(plot) + [3.0, -2.0, 0.5, 1.0][plot % 4] * stand);
        }
    });
    let analysis = run(&different).unwrap();
    assert!(analysis.notices.iter().any(|it| matches!(it, Notice::SlopesDiffer { .. })), "{:?}", analysis.covariates);
}

#[test]
fn a_split_plot_with_a_covariate_has_one_slope_by_the_mixed_model() {
    let split = change(split_plot(4, 3, 3), |it| {
        it.covariates = vec![covariate("stand", (0..36).map(|plot| value(plot * 5 + 2)))];
    });
    let analysis = run(&split).unwrap();
    assert_eq!(analysis.lead, Lead::Mixed);
    assert!(analysis.covariates[0].slope.is_some() && analysis.covariates[0].parallel.is_some());
}

#[test]
fn as_many_covariates_as_plots_are_refused() {
    let many = (0..17).map(|k| covariate(&format!("x{k}"), (0..20).map(move |plot| value(plot * (k + 2) + k))));
    let refused = run(&with(many.collect()));
    assert!(refused.is_err(), "{refused:?}");
}
