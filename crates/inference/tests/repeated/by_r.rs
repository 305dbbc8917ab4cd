//! Source: `tests/reference/repeated-measures/make_values.R` with R 4.2.2: nlme 3.1-162 and dense REML; `layer/make_values.R` there for compound
//! symmetry by lme4 1.1-31 with pbkrtest 0.5.2.

use crate::case::{Case, close, near};
use crate::trial::{model, read, run, without_days};
use guardrow_inference::Repeated;
use guardrow_inference::correlated_errors::CorrelatedFit;

fn fitted<'a>(result: &'a Repeated, name: &str) -> &'a CorrelatedFit {
    model(result, name).fitted.as_ref().expect("the model was fitted")
}

fn variance(model: &CorrelatedFit, part: &str) -> f64 {
    model.parts.iter().find(|it| it.name == part).unwrap_or_else(|| panic!("no part {part}")).variances[0].variance
}

fn correlation(model: &CorrelatedFit) -> f64 {
    model.parts.iter().find_map(|it| it.axes.first()).and_then(|it| it.correlation).expect("it was estimated")
}

#[test]
fn serial_models_are_those_of_nlme() {
    let case = Case::open("repeated-measures");
    let (experiment, occasions) = read(&case);
    let over_days = run(&experiment, &occasions);
    let in_steps = run(&experiment, &without_days(occasions));
    for (result, path) in [(&in_steps, "autoregression"), (&over_days, "decay")] {
        let golden = |name: &str| case.number(&format!("/nlme/{path}/{name}"));
        let model = fitted(result, "serial");
        close(variance(model, "block"), golden("block"), 1e-4, "block");
        close(variance(model, "plot over time"), golden("variance"), 1e-4, "variance");
        close(correlation(model), golden("rho"), 1e-4, "rho");
        near(model.reml_log_likelihood, golden("reml_loglik"), 1e-6, "log-likelihood");
    }
    let own = fitted(&over_days, "independent, variance of each occasion");
    let golden = |name: &str| case.number(&format!("/nlme/variance_by_occasion/{name}"));
    near(own.reml_log_likelihood, golden("reml_loglik"), 1e-6, "log-likelihood");
    let residual = own.parts.iter().find(|it| it.name == "residual").unwrap();
    for (index, found) in residual.variances.iter().enumerate() {
        assert_eq!(found.group.as_deref(), Some(format!("visit {}", index + 1).as_str()));
        close(found.variance, golden(&format!("variances/{index}")), 1e-4, "variance of a visit");
    }
    let both = fitted(&over_days, "serial and independent errors");
    let golden = |name: &str| case.number(&format!("/dense/decay_and_independent/{name}"));
    near(both.reml_log_likelihood, golden("reml_loglik"), 1e-6, "log-likelihood");
    close(variance(both, "residual"), golden("theta/3"), 1e-4, "independent errors");
}

#[test]
fn a_split_plot_in_time_is_that_of_lme4() {
    let case = Case::open("repeated-measures");
    let golden = Case::open_golden("repeated-measures/layer");
    let golden =
        |path: &str| golden.pointer(path).and_then(serde_json::Value::as_f64).unwrap_or_else(|| panic!("{path}"));
    let (experiment, mut occasions) = read(&case);
    for (by_occasion, path) in [(false, "/lasting_blocks"), (true, "/blocks_by_occasion")] {
        occasions.units_by_occasion = by_occasion;
        let result = run(&experiment, &occasions);
        let compound = model(&result, "compound symmetry");
        let own = fitted(&result, "compound symmetry");
        near(own.reml_log_likelihood, golden(&format!("{path}/reml_loglik")), 1e-6, "log-likelihood");
        for name in ["occasion", "treatment", "occasion x treatment"] {
            let test = compound.tests.iter().find(|it| it.label == name).unwrap_or_else(|| panic!("no test of {name}"));
            close(test.f, golden(&format!("{path}/tests/{name}/f")), 1e-3, name);
            close(test.den_df, golden(&format!("{path}/tests/{name}/den_df")), 1e-3, name);
        }
        let sed = compound.sed.unwrap();
        close(sed.mean, golden(&format!("{path}/sed/mean")), 1e-5, "SED");
    }
}

// The chosen model's means, differences within a visit and slopes, from nlme's fit of the same model (errors as fitted, so
// that the comparison is of estimates; errors themselves are compared in `tests/correlated_errors/`).
#[test]
fn means_differences_and_slopes_of_the_chosen_model() {
    let case = Case::open("repeated-measures");
    let golden = Case::open_golden("repeated-measures/layer");
    let golden =
        |path: &str| golden.pointer(path).and_then(serde_json::Value::as_f64).unwrap_or_else(|| panic!("{path}"));
    let (experiment, occasions) = read(&case);
    let result = run(&experiment, &occasions);
    assert_eq!(result.models.models[result.models.chosen].name, "serial, variance of each occasion");
    let log_likelihood = fitted(&result, "serial, variance of each occasion").reml_log_likelihood;
    near(log_likelihood, golden("/chosen/reml_loglik"), 1e-6, "log-likelihood");
    let table = result.tables.iter().find(|it| it.label == "occasion x treatment").unwrap();
    for (index, cell) in table.cells.iter().enumerate() {
        near(cell.mean, golden(&format!("/chosen/means/{index}")), 1e-5, &cell.label);
    }
    let last = result.within_occasions.last().unwrap();
    assert_eq!(last.at, [("occasion".to_owned(), "visit 5".to_owned())]);
    near(last.pairs[2].estimate, golden("/chosen/last_a_minus_d"), 1e-5, "difference on the last visit");
    let slopes = result.over_time.trends.iter().filter(|it| it.treatment.is_some());
    let mut compared = 0;
    for (index, course) in slopes.enumerate() {
        near(course.slope.estimate, golden(&format!("/chosen/slopes/{index}")), 1e-6, "slope");
        compared += 1;
    }
    assert_eq!(compared, 4);
}
