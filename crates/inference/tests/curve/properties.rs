//! What must hold for every data set.

use crate::trial::{analysed, blocks, split_plot};
use guardrow_inference::{
    BestAmount, CurveFit, CurveOptions, Form, GroupCurves, Grouping, Optimum, PlotAmounts, SharedPart, curves_of_plots,
};
use proptest::prelude::*;

const RATES: [f64; 6] = [0.0, 25.0, 60.0, 100.0, 150.0, 210.0];
const BLOCKS: usize = 4;

/// A rise towards a limit with block effects and errors.
fn responses() -> impl Strategy<Value = Vec<f64>> {
    let errors = proptest::collection::vec(-1.0..1.0_f64, BLOCKS * RATES.len());
    (errors, 0.01..0.06_f64, proptest::collection::vec(-1.0..1.0_f64, BLOCKS)).prop_map(|(errors, rate, block)| {
        let of_plot = |(plot, error): (usize, f64)| {
            let amount = RATES[plot % RATES.len()];
            5.0 + 4.0 * (1.0 - (-rate * amount).exp()) + block[plot / RATES.len()] + 0.4 * error
        };
        errors.into_iter().enumerate().map(of_plot).collect()
    })
}

fn block_column() -> Vec<usize> {
    (0..BLOCKS * RATES.len()).map(|plot| plot / RATES.len()).collect()
}

fn plots(response: &[f64], amount: impl Fn(f64) -> f64, order: &[usize]) -> PlotAmounts {
    let block = block_column();
    PlotAmounts {
        amount: order.iter().map(|&plot| Some(amount(RATES[plot % RATES.len()]))).collect(),
        response: order.iter().map(|&plot| Some(response[plot])).collect(),
        units: vec![Grouping {
            name: "block".into(),
            class: order.iter().map(|&plot| block[plot]).collect(),
            classes: BLOCKS,
        }],
        ..PlotAmounts::default()
    }
}

fn in_order() -> Vec<usize> {
    (0..BLOCKS * RATES.len()).collect()
}

/// Every form but the logistics, whose intervals take longest; they have a property of their own.
fn options(price_ratio: f64) -> CurveOptions {
    let is_logistic = |form: &Form| matches!(form, Form::Logistic | Form::LogisticFromZero);
    let forms = Form::ALL.into_iter().filter(|form| !is_logistic(form)).collect();
    CurveOptions { forms, price_ratio: Some(price_ratio), compare_with: Some(100.0), ..CurveOptions::default() }
}

fn logistics(price_ratio: f64) -> CurveOptions {
    CurveOptions { forms: vec![Form::Flat, Form::Logistic, Form::LogisticFromZero], ..options(price_ratio) }
}

fn fitted(plots: &PlotAmounts, options: &CurveOptions) -> GroupCurves {
    curves_of_plots(plots, options).expect("finite values have curves").groups.remove(0)
}

fn near(a: f64, b: f64, allowed: f64) -> bool {
    (a - b).abs() <= allowed * a.abs().max(b.abs()).max(1e-6)
}

/// Pairs of curves of the same form; both sides must have the same forms.
fn paired<'a>(one: &'a GroupCurves, other: &'a GroupCurves) -> Vec<(&'a CurveFit, &'a CurveFit)> {
    let forms = |group: &GroupCurves| group.curves.iter().map(|curve| curve.form).collect::<Vec<_>>();
    assert_eq!(forms(one), forms(other), "{:?} {:?}", one.not_fitted, other.not_fitted);
    one.curves.iter().zip(&other.curves).collect()
}

fn economic(curve: &CurveFit) -> Option<&Optimum> {
    curve.economic.as_ref().and_then(BestAmount::found)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 25, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_rows_does_not_matter(response in responses(), order in Just(in_order()).prop_shuffle()) {
        let (one, other) = (plots(&response, |x| x, &in_order()), plots(&response, |x| x, &order));
        let options = options(0.01);
        for (a, b) in paired(&fitted(&one, &options), &fitted(&other, &options)) {
            prop_assert!(near(a.squares, b.squares, 1e-9), "{:?}", a.form);
            for (a, b) in a.parameters.iter().zip(&b.parameters) {
                prop_assert!(near(a.value.estimate, b.value.estimate, 1e-6), "{} {:?} {:?}", a.name, a.value, b.value);
            }
        }
    }

    #[test]
    fn shifting_and_scaling_the_response_carries_over(response in responses(), shift in -50.0..50.0_f64, scale in 1e-3..1e3_f64) {
        let moved: Vec<f64> = response.iter().map(|value| scale * (value + shift)).collect();
        let one = fitted(&plots(&response, |x| x, &in_order()), &options(0.01));
        let other = fitted(&plots(&moved, |x| x, &in_order()), &options(0.01 * scale));
        for (a, b) in paired(&one, &other) {
            prop_assert!(near(a.squares * scale * scale, b.squares, 1e-6), "{:?}", a.form);
            prop_assert!(near(scale * (a.value(70.0) + shift), b.value(70.0), 1e-6));
            let (Some(a), Some(b)) = (economic(a), economic(b)) else { continue };
            prop_assert!(near(a.amount.estimate, b.amount.estimate, 1e-5), "{:?} {:?}", a.amount, b.amount);
            prop_assert!(near(a.profile.unwrap().upper.unwrap_or(0.0), b.profile.unwrap().upper.unwrap_or(0.0), 1e-4));
            prop_assert!(near(scale * a.gain.unwrap().net.estimate, b.gain.unwrap().net.estimate, 1e-4));
        }
    }

    #[test]
    fn amounts_in_another_unit_give_the_same_curves(response in responses(), scale in 1e-3..1e3_f64) {
        let (plain, turned) = (options(0.01), options(0.01 / scale));
        let turned = CurveOptions { compare_with: Some(100.0 * scale), ..turned };
        let one = fitted(&plots(&response, |x| x, &in_order()), &plain);
        let other = fitted(&plots(&response, |x| scale * x, &in_order()), &turned);
        for (a, b) in paired(&one, &other) {
            prop_assert!(near(a.squares, b.squares, 1e-8), "{:?}", a.form);
            prop_assert!(near(a.value(70.0), b.value(70.0 * scale), 1e-6));
            let (Some(a), Some(b)) = (economic(a), economic(b)) else { continue };
            prop_assert!(near(scale * a.amount.estimate, b.amount.estimate, 1e-5), "{:?} {:?}", a.amount, b.amount);
            let (a, b) = (a.profile.unwrap(), b.profile.unwrap());
            prop_assert!(near(scale * a.lower.unwrap_or(0.0), b.lower.unwrap_or(0.0), 1e-4), "{:?} {:?}", a, b);
        }
    }

    #[test]
    fn amounts_counted_from_another_zero_give_the_same_curves(response in responses(), shift in 0.0..500.0_f64) {
        let plain = options(0.01);
        let turned = CurveOptions { compare_with: Some(100.0 + shift), ..options(0.01) };
        let one = fitted(&plots(&response, |x| x, &in_order()), &plain);
        let other = fitted(&plots(&response, |x| x + shift, &in_order()), &turned);
        for (a, b) in paired(&one, &other) {
            prop_assert!(near(a.squares, b.squares, 1e-7), "{:?}", a.form);
            prop_assert!(near(a.value(70.0), b.value(70.0 + shift), 1e-6));
            let (Some(a), Some(b)) = (economic(a), economic(b)) else { continue };
            prop_assert!(near(a.amount.estimate + shift, b.amount.estimate, 1e-5), "{:?} {:?}", a.amount, b.amount);
            prop_assert!(near(a.gain.unwrap().net.estimate, b.gain.unwrap().net.estimate, 1e-4));
        }
    }

    #[test]
    fn plots_and_means_of_balanced_blocks_give_one_curve(response in responses()) {
        let amounts: Vec<f64> = (0..response.len()).map(|plot| RATES[plot % RATES.len()]).collect();
        let analysis = analysed(&blocks(&block_column(), &amounts, &response));
        let options = options(0.01);
        let by_means = analysis.response_curves("rate", None, &[], &[], &options).unwrap().groups.remove(0);
        let by_plots = fitted(&plots(&response, |x| x, &in_order()), &options);
        for (a, b) in paired(&by_means, &by_plots) {
            let (lack_a, lack_b) = (a.lack_of_fit.unwrap(), b.lack_of_fit.unwrap());
            prop_assert!(near(lack_a.f, lack_b.f, 1e-6) && lack_a.den_df == lack_b.den_df, "{:?}", a.form);
            for (a, b) in a.parameters.iter().zip(&b.parameters) {
                prop_assert!(near(a.value.estimate, b.value.estimate, 1e-5), "{} {:?} {:?}", a.name, a.value, b.value);
            }
        }
    }

    #[test]
    fn intervals_hold_their_estimates_and_no_curve_gains_less_than_nothing(response in responses(), price in 0.0..0.05_f64) {
        check_intervals(&fitted(&plots(&response, |x| x, &in_order()), &options(price)))?;
    }

    #[test]
    fn fieller_and_profile_are_one_interval(response in responses(), price in 0.0..0.05_f64) {
        let group = fitted(&plots(&response, |x| x, &in_order()), &options(price));
        let Some(best) = economic(group.curve(Form::Quadratic).unwrap()) else { return Ok(()) };
        let Some(fieller) = best.fieller else { return Ok(()) };
        let profile = best.profile.unwrap();
        // the profile is told as open where it leaves the reach of the tested amounts, and ends at zero
        for (ours, exact) in [(profile.lower, fieller.lower.map(|lower| lower.max(0.0))), (profile.upper, fieller.upper)] {
            if let (Some(ours), Some(exact)) = (ours, exact) {
                prop_assert!(near(ours, exact, 1e-5), "{:?} {:?}", profile, fieller);
            }
        }
    }

    #[test]
    fn a_form_that_holds_another_fits_no_worse(response in responses()) {
        let group = fitted(&plots(&response, |x| x, &in_order()), &options(0.01));
        let squares = |form: Form| group.curve(form).map(|curve| curve.squares);
        let pairs = [
            (Form::Flat, Form::Linear), (Form::Linear, Form::Quadratic), (Form::Linear, Form::LinearPlateau),
            (Form::Linear, Form::Exponential), (Form::LinearPlateau, Form::BrokenLine),
        ];
        for (simple, general) in pairs {
            if let (Some(simple), Some(general)) = (squares(simple), squares(general)) {
                prop_assert!(general <= simple * (1.0 + 1e-9), "{:?}", group);
            }
        }
    }

    #[test]
    fn groups_with_one_error_share_what_they_share(response in responses(), lift in -3.0..3.0_f64) {
        // the same responses under both names, lifted for one: exactly parallel curves
        let (mut block, mut variety, mut rate, mut both) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for (plot, value) in response.iter().enumerate() {
            for (name, lifted) in [("one", 0.0), ("other", lift)] {
                block.push(plot / RATES.len());
                variety.push(name.to_owned());
                rate.push(RATES[plot % RATES.len()]);
                // a little of its own for every main plot, so that main plots have an error
                both.push(value + lifted + if name == "one" { 0.1 * (plot / RATES.len()) as f64 } else { 0.0 });
            }
        }
        let analysis = analysed(&split_plot(&block, &variety, &rate, &both));
        let options = CurveOptions { forms: vec![Form::Quadratic, Form::LinearPlateau], ..CurveOptions::default() };
        let curves = analysis.response_curves("rate", Some("variety"), &[], &[], &options).unwrap();
        for test in curves.sharing.iter().filter(|test| test.shared != SharedPart::Everything) {
            prop_assert!(test.f < 1e-6 && test.p > 0.999, "{:?}", test);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 6, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn logistics_scale_with_the_response_and_hold_their_estimates(response in responses(), scale in 1e-3..1e3_f64) {
        let one = fitted(&plots(&response, |x| x, &in_order()), &logistics(0.01));
        check_intervals(&one)?;
        let scaled: Vec<f64> = response.iter().map(|value| scale * value).collect();
        let other = fitted(&plots(&scaled, |x| x, &in_order()), &logistics(0.01 * scale));
        for (a, b) in paired(&one, &other) {
            prop_assert!(near(a.squares * scale * scale, b.squares, 1e-6), "{:?}", a.form);
            let (Some(a), Some(b)) = (economic(a), economic(b)) else { continue };
            prop_assert!(near(a.amount.estimate, b.amount.estimate, 1e-5), "{:?} {:?}", a.amount, b.amount);
        }
    }
}

fn check_intervals(group: &GroupCurves) -> Result<(), TestCaseError> {
    for curve in &group.curves {
        for best in [Some(&curve.best), curve.economic.as_ref()].into_iter().flatten().filter_map(BestAmount::found) {
            let (amount, profile) =
                (best.amount.estimate, best.profile.unwrap_or_else(|| panic!("no profile {curve:?}")));
            let slack = 1e-6 * 210.0;
            prop_assert!(profile.lower.is_none_or(|lower| lower <= amount + slack), "{:?} {:?}", curve.form, best);
            prop_assert!(profile.upper.is_none_or(|upper| upper >= amount - slack), "{:?} {:?}", curve.form, best);
            let gain = best.gain.unwrap();
            prop_assert!(gain.net.estimate >= -1e-9 && gain.lower.unwrap() >= 0.0, "{:?} {:?}", curve.form, gain);
            prop_assert!(gain.lower.unwrap() <= gain.net.estimate + 1e-6, "{:?} {:?}", curve.form, gain);
            prop_assert!(
                gain.upper.is_none_or(|upper| upper >= gain.net.estimate - 1e-6),
                "{:?} {:?}",
                curve.form,
                gain
            );
        }
    }
    Ok(())
}
