//! Maize against nitrogen at two sites in five years: means without replicates, so that the scatter about the curve is the error.
//!
//! Source: Engelstad & Parks (1971), Agron. J. 63:21-23; golden values R 4.2.2 (lm, and a 400-point scan refined by Brent's method
//! for the joins). Joins of the golden file are good to its search, 1e-10 in the join at best: absolute 0.01 as its notes say.

use crate::golden::{Golden, close, number, numbers};
use guardrow_inference::{CurveFit, CurveOptions, Form, PlotAmounts, ResponseCurves, SharedPart, curves_of_plots};
use serde_json::Value;

/// Cost of nitrogen over price of maize, as in the golden file.
const RATIO: f64 = 0.11 / 1.15;

fn season(case: &Golden, site: &str, year: &str) -> PlotAmounts {
    let rows: Vec<_> = case.rows.iter().filter(|row| row["site"] == site && row["year"] == year).collect();
    PlotAmounts {
        amount: rows.iter().map(|row| row["nitrogen"].parse().ok()).collect(),
        response: rows.iter().map(|row| row["yield"].parse().ok()).collect(),
        ..PlotAmounts::default()
    }
}

fn curves(plots: &PlotAmounts, forms: &[Form]) -> ResponseCurves {
    let options = CurveOptions { forms: forms.to_vec(), price_ratio: Some(RATIO), ..CurveOptions::default() };
    curves_of_plots(plots, &options).expect("the season can be fitted")
}

fn curve(curves: &ResponseCurves, form: Form) -> &CurveFit {
    let group = &curves.groups[0];
    group.curve(form).unwrap_or_else(|| panic!("{form:?} was not fitted: {:?}", group.not_fitted))
}

#[test]
fn quadratic_with_its_optimum_by_delta_and_fieller() {
    let case = Golden::open("maize-nitrogen-response");
    for golden in case.computed("per_site_year").as_array().unwrap() {
        let season = season(&case, golden["site"].as_str().unwrap(), &golden["year"].to_string());
        let curves = curves(&season, &[Form::Quadratic]);
        let aic = curve(&curves, Form::Quadratic).aic.unwrap();
        close(aic, number(&golden["aic_n_log_sse"], "quadratic"), 1e-8, "criterion");
        let (fit, golden) = (curve(&curves, Form::Quadratic), &golden["quadratic"]);
        let (coefficients, errors) = (numbers(&golden["coefficients"]), numbers(&golden["se"]));
        for ((ours, golden), se) in fit.parameters.iter().zip(coefficients).zip(errors) {
            close(ours.value.estimate, golden, 1e-8, &ours.name);
            close(ours.value.se.unwrap(), se, 1e-8, &ours.name);
            assert_eq!(ours.value.df, Some(number(golden_df(&case), "df")));
        }
        close(fit.squares, number(golden, "sse"), 1e-8, "sum of squares");
        let best = fit.best.found().expect("every season has a highest point");
        close(best.amount.estimate, number(golden, "rate_at_maximum"), 1e-8, "optimum");
        close(best.amount.se.unwrap(), number(golden, "se_delta"), 1e-8, "its error");
        close(best.response.estimate, number(golden, "maximum_yield"), 1e-8, "highest yield");
        check_fieller(best, &golden["fieller95"]);
        let economic = fit.economic.as_ref().unwrap().found().unwrap();
        close(
            economic.amount.estimate,
            number(golden, "economic_optimum_ratio_0.11_over_1.15"),
            1e-8,
            "economic optimum",
        );
    }
}

fn golden_df(case: &Golden) -> &Value {
    &case.computed("per_site_year")[0]["quadratic"]
}

/// The golden file gives no interval where it is not bounded; ours then has an open end.
fn check_fieller(best: &guardrow_inference::Optimum, golden: &Value) {
    let (fieller, profile) = (best.fieller.unwrap(), best.profile.unwrap());
    match (golden[0].as_f64(), golden[1].as_f64()) {
        (Some(lower), Some(upper)) => {
            close(fieller.lower.unwrap(), lower, 1e-8, "Fieller, lower");
            close(fieller.upper.unwrap(), upper, 1e-8, "Fieller, upper");
        }
        _ => assert!(fieller.lower.is_none() || fieller.upper.is_none(), "{fieller:?}"),
    }
    // the profile of a linear model is Fieller's interval; it is walked numerically
    match (profile.lower, fieller.lower) {
        (Some(ours), Some(golden)) => close(ours, golden, 1e-6, "profile, lower"),
        (ours, golden) => assert_eq!(ours, golden),
    }
    match (profile.upper, fieller.upper) {
        (Some(ours), Some(golden)) => close(ours, golden, 1e-6, "profile, upper"),
        (ours, golden) => assert_eq!(ours, golden),
    }
}

#[test]
fn plateaus_with_their_joins() {
    let case = Golden::open("maize-nitrogen-response");
    for golden in case.computed("per_site_year").as_array().unwrap() {
        let season = season(&case, golden["site"].as_str().unwrap(), &golden["year"].to_string());
        let curves = curves(&season, &[Form::LinearPlateau, Form::QuadraticPlateau]);
        check_linear_plateau(curve(&curves, Form::LinearPlateau), &golden["linear_plateau"]);
        check_quadratic_plateau(curve(&curves, Form::QuadraticPlateau), &golden["quadratic_plateau"]);
        for (form, key) in [(Form::LinearPlateau, "linear_plateau"), (Form::QuadraticPlateau, "quadratic_plateau")] {
            let aic = curve(&curves, form).aic.unwrap();
            close(aic, number(&golden["aic_n_log_sse"], key), 1e-8, "criterion");
        }
    }
}

fn check_linear_plateau(fit: &CurveFit, golden: &Value) {
    close(fit.squares, number(golden, "sse"), 1e-8, "sum of squares");
    // the golden join is found to 1e-8 or so, and what hangs on it alike
    for (index, key) in [(0, "intercept"), (1, "slope"), (2, "join")] {
        close(fit.parameters[index].value.estimate, number(golden, key), 1e-7, key);
    }
    close(fit.derived[0].value.estimate, number(golden, "plateau"), 1e-7, "plateau");
    let best = fit.best.found().expect("the response rises to its plateau");
    assert_eq!(best.amount.estimate, fit.parameters[2].value.estimate);
}

fn check_quadratic_plateau(fit: &CurveFit, golden: &Value) {
    close(fit.squares, number(golden, "sse"), 1e-8, "sum of squares");
    for (index, key) in [(0, "plateau"), (1, "curvature"), (2, "join")] {
        close(fit.parameters[index].value.estimate, number(golden, key), 1e-7, key);
    }
    let economic = fit.economic.as_ref().unwrap().found().unwrap();
    close(economic.amount.estimate, number(golden, "economic_optimum_ratio_0.11_over_1.15"), 1e-7, "economic optimum");
}

// Source: the golden file's nls() of the quadratic-plateau; its own convergence is 1e-5, so compare to that.
#[test]
fn errors_of_a_quadratic_plateau() {
    let case = Golden::open("maize-nitrogen-response");
    let curves = curves(&season(&case, "Jackson", "1966"), &[Form::QuadraticPlateau]);
    let fit = curve(&curves, Form::QuadraticPlateau);
    let golden = case.computed("nls_quadratic_plateau_jackson_1966").as_array().unwrap();
    for (ours, golden) in fit.parameters.iter().zip(golden) {
        // it counts the bend with the other sign
        close(ours.value.estimate.abs(), number(golden, "estimate"), 1e-5, &ours.name);
        close(ours.value.se.unwrap(), number(golden, "se"), 2e-5, &ours.name);
    }
}

// Source: as above; ten site-years, parabolas that differ in level only against one for each.
#[test]
fn one_shape_for_all_site_years() {
    let case = Golden::open("maize-nitrogen-response");
    let mut labels: Vec<String> = Vec::new();
    let mut group = Vec::new();
    for row in &case.rows {
        let label = format!("{} {}", row["site"], row["year"]);
        if !labels.contains(&label) {
            labels.push(label.clone());
        }
        group.push(labels.iter().position(|it| *it == label).unwrap());
    }
    let units = Vec::new();
    let (amount, response) = (case.column("nitrogen"), case.column("yield"));
    let plots = PlotAmounts { amount, response, units, group, groups: labels, measured: false };
    let curves = curves(&plots, &[Form::Quadratic]);
    let test = curves.sharing.iter().find(|it| it.shared == SharedPart::Shape).unwrap();
    let golden = case.computed("test_of_common_curve");
    assert_eq!((test.num_df, test.den_df), (number(golden, "df1"), number(golden, "df2")));
    close(test.f, number(golden, "f"), 1e-8, "F of one shape");
    close(test.p, number(golden, "p"), 1e-7, "p of one shape");
}
