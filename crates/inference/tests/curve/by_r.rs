//! Curves against R: self-starting models, `nls()` with block effects, intervals by profile, generalised least squares in a
//! split-plot, comparisons of means by lme4.
//!
//! Source: `tests/reference/response-curves/make_values.R` with R 4.2.2. `nls()` was driven to a relative offset of 3e-8, so that
//! estimates are good to about 1e-7 of their errors; intervals by profile rest on optimisers stopped at 1e-9 or so.

use crate::golden::{Golden, close, close_or, number, numbers};
use crate::trial::{analysed, blocks, full, numbered, split_plot};
use guardrow_inference::{
    CurveFit, CurveOptions, Form, GroupCurves, Grouping, PlotAmounts, ResponseCurves, SharedPart, WhyNot,
    curves_of_plots,
};
use serde_json::Value;

fn golden(table: &str) -> Golden {
    Golden::open_table("response-curves", table)
}

fn plots(case: &Golden, amount: &str, response: &str, block: Option<&str>) -> PlotAmounts {
    let grouping = |block: &str| Grouping { name: block.into(), class: numbered(case, block), classes: 4 };
    PlotAmounts {
        amount: case.column(amount),
        response: case.column(response),
        units: block.map(grouping).into_iter().collect(),
        ..PlotAmounts::default()
    }
}

fn curve(group: &GroupCurves, form: Form) -> &CurveFit {
    group.curve(form).unwrap_or_else(|| panic!("{form:?} was not fitted: {:?}", group.not_fitted))
}

/// Estimates to 1e-6 of their errors or 1e-8 of themselves; errors to 1e-6.
fn check_parameters(fit: &CurveFit, golden: &Value, keys: &[&str]) {
    assert_eq!(fit.parameters.len(), keys.len());
    for (ours, key) in fit.parameters.iter().zip(keys) {
        let se = number(&golden["parameters"][key], "se");
        close_or(ours.value.estimate, number(&golden["parameters"][key], "estimate"), 1e-8, 1e-6 * se, &ours.name);
        close(ours.value.se.unwrap(), se, 1e-6, &ours.name);
        assert_eq!(ours.value.df, golden["df"].as_f64());
    }
    close(fit.squares, number(golden, "rss"), 1e-9, "residual sum of squares");
}

#[test]
fn self_starting_models_on_single_values() {
    let case = golden("loblolly_301.csv");
    let curves = curves_of_plots(&plots(&case, "amount", "value", None), &CurveOptions::default()).unwrap();
    let golden = &case.expected["self_starting"];
    check_parameters(curve(&curves.groups[0], Form::Exponential), &golden["loblolly_asymp"], &["A", "S", "k"]);
    let case = self::golden("chick_1.csv");
    let curves = curves_of_plots(&plots(&case, "amount", "value", None), &CurveOptions::default()).unwrap();
    check_parameters(curve(&curves.groups[0], Form::Logistic), &golden["chick_fpl"], &["L", "H", "m", "w"]);
    // R puts the middle of the other logistic at day 35 of 21: there is no turn in these data to place it by
    assert!(number(&golden["chick_logis"]["parameters"]["m"], "estimate") > 35.0);
    let refused = curves.groups[0].not_fitted.iter().find(|it| it.form == Form::LogisticFromZero).unwrap();
    assert_eq!(refused.why, WhyNot::NoTurn);
}

const IN_BLOCKS: [(Form, &str, &str); 6] = [
    (Form::Quadratic, "quadratic", "plateau"),
    (Form::LinearPlateau, "linear_plateau", "plateau"),
    (Form::QuadraticPlateau, "quadratic_plateau", "plateau"),
    (Form::Exponential, "exponential", "plateau"),
    (Form::BrokenLine, "broken_line", "plateau"),
    (Form::Logistic, "logistic", "step"),
];

/// The same trial through its strata.
fn through_strata(case: &Golden, response: &str, options: &CurveOptions) -> ResponseCurves {
    let trial = blocks(&numbered(case, "block"), &full(case, "amount"), &full(case, response));
    analysed(&trial).response_curves("rate", None, &[], &[], options).expect("the trial has curves")
}

#[test]
fn plots_with_block_effects_as_by_nls() {
    let case = golden("blocks.csv");
    for (form, key, response) in IN_BLOCKS {
        let curves =
            curves_of_plots(&plots(&case, "amount", response, Some("block")), &CurveOptions::default()).unwrap();
        let (fit, golden) = (curve(&curves.groups[0], form), &case.expected["blocks"][key]);
        for ((ours, golden), se) in
            fit.parameters.iter().zip(numbers(&golden["parameters"])).zip(numbers(&golden["se_scatter"]))
        {
            close_or(ours.value.estimate, golden, 1e-8, 1e-6 * se, &ours.name);
            close(ours.value.se.unwrap(), se, 1e-6, &ours.name);
            assert_eq!(ours.value.df, case.expected["blocks"][key]["df_scatter"].as_f64());
        }
        close(fit.squares, number(golden, "rss"), 1e-9, key);
        check_lack_of_fit(fit, &golden["lack_of_fit"]);
        if let Some(nls) = case.expected["blocks_nls"].get(key) {
            close(fit.squares, number(nls, "rss"), 1e-9, key);
        }
    }
}

fn check_lack_of_fit(fit: &CurveFit, golden: &Value) {
    let lack = fit.lack_of_fit.unwrap();
    assert_eq!((lack.num_df, lack.den_df), (number(golden, "num_df"), number(golden, "den_df")));
    close(lack.f, number(golden, "f"), 1e-7, "lack of fit");
    close(lack.p, number(golden, "p"), 1e-6, "p of lack of fit");
}

#[test]
fn means_with_the_error_of_their_stratum_are_the_same_curves() {
    let case = golden("blocks.csv");
    for (form, key, response) in IN_BLOCKS {
        let curves = through_strata(&case, response, &CurveOptions::default());
        let (fit, golden) = (curve(&curves.groups[0], form), &case.expected["blocks"][key]);
        let errors = numbers(&golden["se_shape_pure"]);
        for (index, (ours, golden)) in fit.parameters.iter().zip(numbers(&golden["parameters"])).enumerate() {
            close_or(ours.value.estimate, golden, 1e-8, 1e-6 * errors[index], &ours.name);
            // levels also carry the blocks' error here, which nls() with fixed blocks leaves out
            if ours.name.contains("level") || ours.name.contains("value") || index == 0 && form != Form::Flat {
                assert!(ours.value.se.unwrap() > errors[index], "{}", ours.name);
            } else if ours.name != "asymptote" {
                close(ours.value.se.unwrap(), errors[index], 1e-6, &ours.name);
                assert_eq!(ours.value.df, case.expected["blocks"][key]["pure_df"].as_f64());
            }
        }
        check_lack_of_fit(fit, &golden["lack_of_fit"]);
    }
}

#[test]
fn best_amounts_by_profile() {
    let case = golden("blocks.csv");
    let golden = &case.expected["profile_of_best_amount"];
    let options = CurveOptions { price_ratio: golden["price_ratio"].as_f64(), ..CurveOptions::default() };
    for (form, key, response) in IN_BLOCKS {
        let curves = through_strata(&case, response, &options);
        let best = curve(&curves.groups[0], form).economic.as_ref().unwrap().found().unwrap();
        let (profile, golden) = (best.profile.unwrap(), &golden[key]);
        close(best.amount.estimate, number(golden, "best"), 1e-5, key);
        close(profile.lower.unwrap(), number(golden, "lower"), 1e-6, key);
        close(profile.upper.unwrap(), number(golden, "upper"), 1e-6, key);
    }
}

#[test]
fn gains_by_profile() {
    let case = golden("blocks.csv");
    let ratio = case.expected["profile_of_best_amount"]["price_ratio"].as_f64();
    let options = CurveOptions { price_ratio: ratio, compare_with: Some(0.0), ..CurveOptions::default() };
    let curves = through_strata(&case, "plateau", &options);
    for (form, key) in [(Form::Exponential, "exponential"), (Form::QuadraticPlateau, "quadratic_plateau")] {
        let gain = curve(&curves.groups[0], form).economic.as_ref().unwrap().found().unwrap().gain.unwrap();
        let golden = &case.expected["gain_over_0"][key];
        close(gain.lower.unwrap(), number(golden, "lower"), 1e-6, key);
        close(gain.upper.unwrap(), number(golden, "upper"), 1e-6, key);
    }
}

// Plots weigh as they are many: the curve through the means with their unequal errors is nls() on the plots.
#[test]
fn unequal_replication_in_a_completely_random_trial() {
    let case = golden("uneven.csv");
    let trial = blocks(&[], &full(&case, "amount"), &full(&case, "yield"));
    let options = CurveOptions::default();
    let curves = analysed(&trial).response_curves("rate", None, &[], &[], &options).unwrap();
    let (fit, golden) = (curve(&curves.groups[0], Form::Exponential), &case.expected["uneven"]);
    let per_plot = number(golden, "rss") / number(golden, "df");
    for (ours, key) in fit.parameters.iter().zip(["A", "S", "k"]) {
        let se = number(&golden["parameters"][key], "se");
        close_or(ours.value.estimate, number(&golden["parameters"][key], "estimate"), 1e-8, 1e-6 * se, key);
        close(ours.value.se.unwrap(), se * (number(golden, "pure_ms") / per_plot).sqrt(), 1e-6, key);
        assert_eq!(ours.value.df, golden["pure_df"].as_f64());
    }
}

#[test]
fn counted_amounts_on_each_plot() {
    let case = golden("stand.csv");
    let counted = PlotAmounts { measured: true, ..plots(&case, "count", "yield", Some("block")) };
    let curves = curves_of_plots(&counted, &CurveOptions::default()).unwrap();
    let golden = &case.expected["stand"];
    let group = &curves.groups[0];
    check_parameters(curve(group, Form::Quadratic), &golden["quadratic"], &["intercept", "linear", "quadratic"]);
    check_parameters(curve(group, Form::QuadraticPlateau), &golden["quadratic_plateau"], &["P", "q", "j"]);
    assert!(group.notices.contains(&guardrow_inference::CurveNotice::AmountsMeasured));
}

#[test]
fn separate_curves_in_a_split_plot_by_generalised_least_squares() {
    let case = golden("split_plot.csv");
    let varieties: Vec<String> = case.rows.iter().map(|row| row["variety"].clone()).collect();
    let trial = split_plot(&numbered(&case, "block"), &varieties, &full(&case, "rate"), &full(&case, "yield"));
    let options = CurveOptions { forms: vec![Form::Exponential], ..CurveOptions::default() };
    let curves = analysed(&trial).response_curves("rate", Some("variety"), &[], &[], &options).unwrap();
    let golden = &case.expected["split_plot"];
    let labels: Vec<&str> = curves.groups.iter().map(|group| group.label.as_str()).collect();
    assert_eq!(labels, ["early", "mid", "late"]);
    for (index, group) in curves.groups.iter().enumerate() {
        let fit = curve(group, Form::Exponential);
        // the golden fit is BFGS on three rates, good to about 1e-5 of an error
        for (parameter, key) in [(0, "asymptote"), (1, "start"), (2, "rate")] {
            let estimate = numbers(&golden[key])[index];
            close(fit.parameters[parameter].value.estimate, estimate, 1e-5, key);
        }
        for (parameter, se, df) in [(0, "se_asymptote", "df_asymptote"), (2, "se_rate", "df_rate")] {
            close(fit.parameters[parameter].value.se.unwrap(), numbers(&golden[se])[index], 1e-5, se);
            close(fit.parameters[parameter].value.df.unwrap(), numbers(&golden[df])[index], 1e-4, df);
        }
    }
    for (shared, key) in [(SharedPart::Bend, "same_bend"), (SharedPart::Shape, "same_shape")] {
        let (test, golden) = (curves.sharing.iter().find(|it| it.shared == shared).unwrap(), &golden[key]);
        assert_eq!((test.num_df, test.den_df), (number(golden, "num_df"), number(golden, "den_df")));
        close(test.bend.unwrap(), number(golden, "k"), 1e-6, "shared rate");
        close(test.f, number(golden, "f"), 1e-6, key);
        close(test.p, number(golden, "p"), 1e-5, key);
    }
}

// Source: Yates (1935); golden values by lme4 and Kenward-Roger (pbkrtest), the parabola as comparisons of means.
#[test]
fn oats_parabolas_have_the_errors_of_their_strata() {
    let case = Golden::open("oats-variety-nitrogen-split-plot");
    let golden = &golden("blocks.csv").expected["oats"];
    let varieties: Vec<String> = case.rows.iter().map(|row| row["variety"].clone()).collect();
    let block = numbered(&case, "block");
    let trial = split_plot(&block, &varieties, &full(&case, "nitrogen"), &full(&case, "grain_yield"));
    let options = CurveOptions { forms: vec![Form::Quadratic], ..CurveOptions::default() };
    let curves = analysed(&trial).response_curves("rate", Some("variety"), &[], &[], &options).unwrap();
    let groups = curves.together.iter().chain(&curves.groups);
    let rows = golden["together"].as_array().unwrap().iter().chain(golden["by_variety"].as_array().unwrap());
    let rows: Vec<&Value> = rows.collect();
    let mut checked = 0;
    for group in groups {
        let of_group = rows.iter().filter(|row| row["variety"].as_str().unwrap_or("") == group.label);
        for (ours, golden) in curve(group, Form::Quadratic).parameters.iter().zip(of_group) {
            assert_eq!(ours.name, golden["contrast"].as_str().unwrap());
            close(ours.value.estimate, number(golden, "estimate"), 1e-8, &ours.name);
            close(ours.value.se.unwrap(), number(golden, "SE"), 1e-5, &ours.name);
            close(ours.value.df.unwrap(), number(golden, "df"), 1e-4, &ours.name);
            checked += 1;
        }
    }
    assert_eq!(checked, 12);
}
