//! Published fields. Golden values by dense REML in R 4.2.2, lme4 1.1-31 with pbkrtest 0.5.2, and nlme 3.1-162 (see each `expected.json`);
//! tolerances those of `tests/reference/PROVENANCE.md` for mixed models.

use crate::case::{Case, close, near};
use crate::trial::{model, places, run, unit, varieties};
use guardrow_inference::correlated_errors::{CorrelatedFit, Edge, FittedPart};
use guardrow_inference::{Covariate, ErrorModel, FieldLead, FieldTrend};

fn fitted(model: &ErrorModel) -> &CorrelatedFit {
    model.fitted.as_ref().expect("the model was fitted")
}

fn part<'a>(model: &'a CorrelatedFit, name: &str) -> &'a FittedPart {
    model.parts.iter().find(|part| part.name == name).unwrap_or_else(|| panic!("no part {name}"))
}

fn variance(model: &CorrelatedFit, name: &str) -> f64 {
    part(model, name).variances[0].variance
}

fn check_means(result: &FieldTrend, case: &Case, path: &str, mean: &str) {
    let golden = case.list(path);
    let table = &result.tables[0];
    assert_eq!(table.cells.len(), golden.len());
    for (found, golden) in table.cells.iter().zip(golden) {
        assert_eq!(found.label, golden["variety"].as_str().unwrap());
        close(found.mean, golden[mean].as_f64().unwrap(), 1e-5, &found.label);
    }
}

// Source: Gilmour, Cullis & Verbyla (1997), JABES 2:269-293, the field; taken without its replicates, as the golden models are.
#[test]
fn a_lattice_with_autoregression() {
    let case = Case::open("wheat-lattice-spatial");
    let result = run(&varieties(&case, unit("plot"), &[]), &places(&case));
    for (name, path) in
        [("autoregression", "ar1_by_ar1"), ("autoregression and independent errors", "ar1_by_ar1_plus_nugget")]
    {
        let golden = |name: &str| case.number(&format!("/computed/{path}/{name}"));
        let model = fitted(model(&result, name));
        let rho = |axis: usize| part(model, "trend").axes[axis].correlation.unwrap();
        close(rho(0), golden("rho_row"), 1e-4, "rho of ranges");
        close(rho(1), golden("rho_column"), 1e-4, "rho of passes");
        near(model.reml_log_likelihood, golden("reml_loglik"), 1e-6, "log-likelihood");
        let total: f64 = model.parts.iter().map(|part| part.variances[0].variance).sum();
        close(total, golden("total_variance"), 1e-4, "variance");
    }
    assert_eq!(result.models.models[result.models.chosen].name, "autoregression and independent errors");
    check_means(&result, &case, "/computed/ar1_by_ar1_plus_nugget/means", "mean");
    assert_eq!(result.lead, FieldLead::Model);
    let criterion = |name: &str| fitted(model(&result, name)).aic;
    let golden = |path: &str, k: f64| -2.0 * case.number(&format!("/computed/{path}/reml_loglik")) + 2.0 * k;
    near(criterion("autoregression"), golden("ar1_by_ar1", 3.0), 1e-5, "criterion");
    near(criterion("autoregression and independent errors"), golden("ar1_by_ar1_plus_nugget", 4.0), 1e-5, "criterion");
}

#[test]
fn the_lattice_as_it_was_randomised_stays_in_every_model() {
    let case = Case::open("wheat-lattice-spatial");
    let blocks = unit("replicate").nest(unit("row").cross(unit("column")));
    let units: [(&str, &[&str]); 3] =
        [("replicate", &["replicate"]), ("row", &["replicate", "row"]), ("column", &["replicate", "column"])];
    let result = run(&varieties(&case, blocks, &units), &places(&case));
    let first = &result.models.models[0];
    let golden = |name: &str| case.number(&format!("/computed/mixed_rows_columns/{name}"));
    near(fitted(first).reml_log_likelihood, golden("reml_loglik"), 1e-6, "log-likelihood");
    close(first.tests[0].f, golden("tests_kenward_roger/0/f"), 1e-5, "F");
    close(first.tests[0].den_df, golden("tests_kenward_roger/0/den_df"), 1e-4, "df");
    close(first.sed.unwrap().mean, case.number("/computed/means/sed/mean"), 1e-5, "SED");
    // the same figures as the plain analysis beside it, by another route
    let plain = result.as_randomised.mixed.as_ref().unwrap();
    near(plain.reml_log_likelihood, fitted(first).reml_log_likelihood, 1e-6, "both routes");
    for model in &result.models.models {
        let names: Vec<&str> = fitted(model).parts.iter().map(|part| part.name.as_str()).collect();
        let told = |name: &str| names.contains(&name) || model.edges.iter().any(|it| it.contains(name));
        assert!(["replicate", "row", "column"].into_iter().all(told), "{}: {names:?} {:?}", model.name, model.edges);
    }
}

// Source: `tests/reference/field-trend/make_values.R`.
#[test]
fn rows_and_columns_and_a_smooth_trend() {
    let case = Case::open("wheat-lattice-spatial");
    let golden = Case::open_golden("field-trend");
    let golden =
        |path: &str| golden.pointer(path).and_then(serde_json::Value::as_f64).unwrap_or_else(|| panic!("{path}"));
    let experiment = varieties(&case, unit("replicate").nest(unit("plot")), &[("replicate", &["replicate"])]);
    let result = run(&experiment, &places(&case));
    let rows = model(&result, "rows and columns");
    for name in ["replicate", "range", "pass", "residual"] {
        close(variance(fitted(rows), name), golden(&format!("/rows_columns/{name}")), 1e-4, name);
    }
    near(fitted(rows).reml_log_likelihood, golden("/rows_columns/reml_loglik"), 1e-6, "log-likelihood");
    let sed = rows.sed.unwrap();
    for (found, name) in [(sed.min, "min"), (sed.mean, "mean"), (sed.max, "max")] {
        close(found, golden(&format!("/rows_columns/sed_kr/{name}")), 1e-5, name);
    }
    close(rows.tests[0].f, golden("/rows_columns/f"), 1e-3, "F");
    close(rows.tests[0].den_df, golden("/rows_columns/den_df"), 1e-3, "df");

    let smooth = fitted(model(&result, "smooth trend"));
    let parts = [
        ("replicate", "replicate"),
        ("line along ranges", "line_range"),
        ("curve along ranges", "curve_range"),
        ("line along passes", "line_pass"),
        ("curve along passes", "curve_pass"),
        ("residual", "residual"),
    ];
    let residual = golden("/smooth/residual");
    for (name, theirs) in parts {
        let theirs = golden(&format!("/smooth/{theirs}"));
        // nlme comes near zero and does not reach it
        if theirs < 1e-6 * residual {
            assert!(part(smooth, name).variances[0].at_zero, "{name}");
        } else {
            close(variance(smooth, name), theirs, 1e-3, name);
        }
    }
    near(smooth.reml_log_likelihood, golden("/smooth/reml_loglik"), 1e-5, "log-likelihood");
}

// Source: Besag & Higdon (1999), JRSS B 61:691-746. Columns as fixed columns of the model, as in the golden fits.
#[test]
fn three_columns_with_a_trend_along_them() {
    let case = Case::open("wheat-trend-three-columns");
    let column = case.numbers("column");
    let indicator = |which: f64| Covariate {
        name: format!("column {which}"),
        unit: None,
        values: column.iter().map(|it| Some(f64::from(u8::from(*it == which)))).collect(),
    };
    let mut experiment = varieties(&case, unit("plot"), &[]);
    experiment.covariates = vec![indicator(2.0), indicator(3.0)];
    let result = run(&experiment, &places(&case));
    let golden = |name: &str| case.number(&format!("/computed/{name}"));
    near(fitted(model(&result, "as randomised")).reml_log_likelihood, golden("rcb_reml_loglik"), 1e-6, "blocks alone");
    let plain = fitted(model(&result, "autoregression"));
    close(part(plain, "trend").axes[0].correlation.unwrap(), golden("ar1/rho"), 1e-4, "rho");
    near(plain.reml_log_likelihood, golden("ar1/reml_loglik"), 1e-6, "log-likelihood");
    let walk = model(&result, "autoregression and independent errors");
    near(fitted(walk).reml_log_likelihood, golden("linear_variance_plus_nugget/reml_loglik"), 1e-6, "log-likelihood");
    close(variance(fitted(walk), "trend"), golden("linear_variance_plus_nugget/phi"), 1e-4, "step");
    close(variance(fitted(walk), "residual"), golden("linear_variance_plus_nugget/nugget"), 1e-4, "independent errors");
    assert!(matches!(fitted(walk).edges.as_slice(), [Edge::NoInteriorMaximum { .. }]));
    assert!(walk.edges[0].contains("runs to one"), "{:?}", walk.edges);
}

// Source: Kempton & Fox (1997), p. 62. The ground of the two replicates is taken as one behind the other.
#[test]
fn replicated_rows_and_columns() {
    let case = Case::open("wheat-row-column");
    let blocks = unit("replicate").nest(unit("row").cross(unit("column")));
    let units: [(&str, &[&str]); 3] =
        [("replicate", &["replicate"]), ("row", &["replicate", "row"]), ("column", &["replicate", "column"])];
    let mut places = places(&case);
    let replicate = case.classes(&["replicate"]).1;
    places.range.iter_mut().zip(replicate).for_each(|(range, replicate)| *range += 5 * replicate);
    let result = run(&varieties(&case, blocks, &units), &places);
    let golden = |name: &str| case.number(&format!("/computed/{name}"));
    let first = &result.models.models[0];
    near(fitted(first).reml_log_likelihood, golden("mixed_replicate_random/reml_loglik"), 1e-6, "log-likelihood");
    close(first.tests[0].f, golden("mixed_replicate_random/tests_kenward_roger/0/f"), 1e-3, "F");
    close(first.tests[0].den_df, golden("mixed_replicate_random/tests_kenward_roger/0/den_df"), 1e-4, "df");
    assert!(result.models.models.iter().all(|it| it.why_not.is_none()));
}
