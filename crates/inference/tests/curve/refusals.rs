//! Data on which a form says nothing are met with its name, not with numbers.

use guardrow_inference::{
    BestAmount, CurveFit, CurveNotice, CurveOptions, Form, GroupCurves, Grouping, InferenceError, PlotAmounts, WhyNot,
    curves_of_plots,
};

const AMOUNTS: [f64; 6] = [0.0, 20.0, 40.0, 60.0, 80.0, 100.0];

/// Two plots of each amount with these means, a little apart.
fn with_means(amounts: &[f64], means: &[f64]) -> PlotAmounts {
    let pairs = |values: Vec<f64>| values.into_iter().map(Some).collect::<Vec<_>>();
    let apart = means.iter().enumerate().flat_map(|(index, mean)| {
        let by = 0.05 * (1.0 + (index % 3) as f64);
        [mean - by, mean + by]
    });
    PlotAmounts {
        amount: pairs(amounts.iter().flat_map(|&amount| [amount, amount]).collect()),
        response: pairs(apart.collect()),
        ..PlotAmounts::default()
    }
}

fn curves(plots: &PlotAmounts) -> GroupCurves {
    let options = CurveOptions { price_ratio: Some(0.005), ..CurveOptions::default() };
    curves_of_plots(plots, &options).expect("the plots are in order").groups.remove(0)
}

fn why(group: &GroupCurves, form: Form) -> WhyNot {
    let found = group.not_fitted.iter().find(|it| it.form == form);
    found.unwrap_or_else(|| panic!("{form:?} was fitted: {:?}", group.curve(form))).why
}

fn curve(group: &GroupCurves, form: Form) -> &CurveFit {
    group.curve(form).unwrap_or_else(|| panic!("{form:?} was not fitted: {:?}", group.not_fitted))
}

#[test]
fn a_straight_rise_has_no_plateau_and_no_optimum() {
    let group = curves(&with_means(&AMOUNTS, &AMOUNTS.map(|x| 2.0 + 0.03 * x + 0.00002 * x * x)));
    assert_eq!(why(&group, Form::LinearPlateau), WhyNot::NoPlateau);
    assert_eq!(why(&group, Form::QuadraticPlateau), WhyNot::NoPlateau);
    assert_eq!(why(&group, Form::Exponential), WhyNot::NoCurvature);
    assert_eq!(curve(&group, Form::Linear).best, BestAmount::NoBest(CurveNotice::KeepsRising));
    assert_eq!(curve(&group, Form::Quadratic).best, BestAmount::NoBest(CurveNotice::BendsTheOtherWay));
}

#[test]
fn a_response_that_is_complete_at_the_second_amount_has_no_join() {
    let group = curves(&with_means(&AMOUNTS, &[2.0, 5.0, 4.98, 5.02, 5.01, 4.99]));
    assert_eq!(why(&group, Form::LinearPlateau), WhyNot::OneAmountBelowJoin);
    assert_eq!(why(&group, Form::QuadraticPlateau), WhyNot::OneAmountBelowJoin);
    assert_eq!(why(&group, Form::Exponential), WhyNot::CompleteBeforeSecondAmount);
    assert_eq!(why(&group, Form::BrokenLine), WhyNot::OneAmountOnASide);
}

#[test]
fn a_step_between_two_amounts_has_no_steepness() {
    let group = curves(&with_means(&AMOUNTS, &[2.0, 2.01, 1.99, 5.0, 5.01, 4.99]));
    assert_eq!(why(&group, Form::Logistic), WhyNot::StepBetweenAmounts);
}

#[test]
fn equal_means_have_no_curve() {
    let group = curves(&with_means(&AMOUNTS, &[3.0; 6]));
    assert!(group.curve(Form::Flat).is_some());
    for form in Form::ALL.into_iter().filter(|form| *form != Form::Flat) {
        assert_eq!(why(&group, form), WhyNot::NoDifferences);
    }
}

#[test]
fn constant_plots_have_neither_curve_nor_error() {
    let mut plots = with_means(&AMOUNTS, &[3.0; 6]);
    plots.response.fill(Some(3.0));
    let group = curves(&plots);
    let flat = curve(&group, Form::Flat);
    assert_eq!((flat.parameters[0].value.estimate, flat.parameters[0].value.se), (3.0, None));
    assert!(flat.notices.contains(&CurveNotice::NoError));
}

#[test]
fn a_curve_through_every_value_has_no_error_but_its_estimates() {
    let plots = PlotAmounts {
        amount: [0.0, 50.0, 100.0].map(Some).to_vec(),
        response: [1.0, 2.0, 2.4].map(Some).to_vec(),
        ..PlotAmounts::default()
    };
    let group = curves(&plots);
    let quadratic = curve(&group, Form::Quadratic);
    let best = quadratic.best.found().unwrap();
    // by hand: 1 + 0.026 x - 0.00012 x^2
    assert!((best.amount.estimate - 325.0 / 3.0).abs() < 1e-9 && best.amount.se.is_none() && best.profile.is_none());
    assert!(
        quadratic.notices.contains(&CurveNotice::NoError) && quadratic.notices.contains(&CurveNotice::NoAmountsLeft)
    );
    assert!(best.notices.contains(&CurveNotice::Extrapolated));
    assert_eq!(why(&group, Form::LinearPlateau), WhyNot::TooFewAmounts { found: 3, needed: 4 });
}

#[test]
fn a_join_on_a_tested_amount_has_an_interval_but_no_error() {
    // the mean at 60 lies above both lines' meeting, so that the least is the kink there
    let group = curves(&with_means(&AMOUNTS, &[2.0, 3.0, 4.0, 5.3, 5.0, 5.0]));
    let fit = curve(&group, Form::LinearPlateau);
    let join = &fit.parameters[2];
    if fit.notices.contains(&CurveNotice::JoinAtTestedAmount { amount: 60.0 }) {
        assert_eq!(join.value.se, None);
    } else {
        panic!("no kink at 60: {fit:?}");
    }
    let profile = join.profile.unwrap();
    assert!(profile.lower.unwrap() < 60.0 && profile.upper.unwrap() > 60.0);
}

#[test]
fn a_price_that_nothing_pays_for_leaves_the_lowest_amount() {
    let plots = with_means(&AMOUNTS, &[2.0, 3.1, 3.9, 4.6, 5.0, 5.1]);
    let options = CurveOptions { price_ratio: Some(10.0), ..CurveOptions::default() };
    let group = curves_of_plots(&plots, &options).unwrap().groups.remove(0);
    for curve in group.curves.iter().filter(|curve| curve.form != Form::Flat) {
        let best = curve.economic.as_ref().unwrap().found().unwrap_or_else(|| panic!("{curve:?}"));
        assert_eq!(best.amount.estimate, 0.0, "{:?}", curve.form);
        assert!(best.notices.contains(&CurveNotice::LowestIsBest));
        let profile = best.profile.unwrap();
        assert_eq!((profile.lower, profile.upper), (Some(0.0), Some(0.0)), "{:?}", curve.form);
    }
}

#[test]
fn a_given_join_must_leave_two_amounts_on_either_side() {
    for (join, fits) in [(50.0, true), (20.0, true), (10.0, false), (-5.0, false), (99.0, false), (400.0, false)] {
        let form = Form::BrokenLineAt { join };
        let options = CurveOptions { forms: vec![form], ..CurveOptions::default() };
        let plots = with_means(&AMOUNTS, &[2.0, 3.1, 3.9, 4.6, 5.0, 5.1]);
        let group = curves_of_plots(&plots, &options).unwrap().groups.remove(0);
        assert_eq!(group.curve(form).is_some(), fits, "{join}");
    }
}

#[test]
fn input_that_makes_no_sense_is_an_error_with_help() {
    let good = with_means(&AMOUNTS, &[2.0, 3.1, 3.9, 4.6, 5.0, 5.1]);
    let unit = |class: Vec<usize>| vec![Grouping { name: "block".into(), class, classes: 2 }];
    let cases = [
        PlotAmounts { amount: vec![Some(1.0)], ..good.clone() },
        PlotAmounts { response: vec![Some(f64::NAN); 12], ..good.clone() },
        PlotAmounts { amount: vec![Some(f64::INFINITY); 12], ..good.clone() },
        PlotAmounts { response: vec![Some(1e300); 12], ..good.clone() },
        PlotAmounts { response: vec![None; 12], ..good.clone() },
        PlotAmounts { units: unit(vec![0; 3]), ..good.clone() },
        PlotAmounts { units: unit(vec![7; 12]), ..good.clone() },
        PlotAmounts { group: vec![3; 12], groups: vec!["a".into(), "b".into()], ..good.clone() },
    ];
    for plots in cases {
        let error = curves_of_plots(&plots, &CurveOptions::default()).expect_err("this cannot be fitted");
        assert!(!error.help().is_empty());
    }
    let settings = [
        CurveOptions { level: 0.7, ..CurveOptions::default() },
        CurveOptions { price_ratio: Some(-1.0), ..CurveOptions::default() },
        CurveOptions { compare_with: Some(f64::NAN), ..CurveOptions::default() },
        CurveOptions { forms: vec![Form::BrokenLineAt { join: f64::NAN }], ..CurveOptions::default() },
    ];
    for options in settings {
        assert!(matches!(curves_of_plots(&good, &options), Err(InferenceError::Setting { .. })));
    }
}

#[test]
fn one_amount_or_amounts_that_follow_the_blocks_are_refused() {
    let group = curves(&with_means(&[50.0], &[2.0]));
    assert!(group.curves.is_empty() && group.not_fitted.len() == Form::ALL.len());
    let mut plots = with_means(&AMOUNTS, &[2.0, 3.1, 3.9, 4.6, 5.0, 5.1]);
    // every amount has a block of its own: nothing of the curve is compared within blocks
    plots.units = vec![Grouping { name: "block".into(), class: (0..12).map(|plot| plot / 2).collect(), classes: 6 }];
    let group = curves(&plots);
    assert_eq!(group.curves.iter().map(|it| it.form).collect::<Vec<_>>(), [Form::Flat], "{group:?}");
}
