//! Published field trials with a trend. Golden values by REML with dense matrices in R 4.2.2, with nlme 3.1-162 as a second route (see
//! each `expected.json`); tolerances those of `tests/reference/PROVENANCE.md` for mixed models.

use crate::case::{Case, check_sed, close, near, wald};
use guardrow_inference::Covariate;
use guardrow_inference::correlated_errors::{
    Axis, CorrelatedAnalysis, CorrelatedFit, Edge, FittedPart, Observations, Part, Unit, fit,
};

fn part<'a>(model: &'a CorrelatedFit, name: &str) -> &'a FittedPart {
    model.parts.iter().find(|part| part.name.starts_with(name)).expect("the part is there")
}

fn correlation(model: &CorrelatedFit, axis: usize) -> f64 {
    part(model, "trend").axes[axis].correlation.expect("it was estimated")
}

fn check_means(analysis: &CorrelatedAnalysis, case: &Case, path: &str, mean: &str) {
    let golden = case.list(path);
    let means = analysis.means();
    assert_eq!(means.len(), golden.len());
    for (found, golden) in means.iter().zip(golden) {
        close(*found, golden[mean].as_f64().unwrap(), 1e-5, golden["variety"].as_str().unwrap());
    }
}

fn lattice(parts: impl Fn(&Case) -> Vec<Part>) -> (Case, CorrelatedAnalysis) {
    let case = Case::open("wheat-lattice-spatial");
    let (labels, cell) = case.classes(&["variety"]);
    let analysis = fit(&Observations::new(case.numbers("yield"), cell, labels.len()), parts(&case)).unwrap();
    (case, analysis)
}

fn field(case: &Case) -> Part {
    let axes = vec![Axis::steps("row", case.numbers("row")), Axis::steps("column", case.numbers("column"))];
    Part::along("trend", Unit::All, axes)
}

// Source: Gilmour, Cullis & Verbyla (1997), JABES 2:269-293, the field.
#[test]
fn a_lattice_with_autoregression_over_the_field() {
    let (case, analysis) = lattice(|case| vec![field(case)]);
    let (model, path) = (&analysis.model, "/computed/ar1_by_ar1");
    let golden = |name: &str| case.number(&format!("{path}/{name}"));
    close(correlation(model, 0), golden("rho_row"), 1e-4, "rho of rows");
    close(correlation(model, 1), golden("rho_column"), 1e-4, "rho of columns");
    close(part(model, "trend").variances[0].variance, golden("total_variance"), 1e-4, "variance");
    near(model.reml_log_likelihood, golden("reml_loglik"), 1e-6, "log-likelihood");
    close(wald(&analysis), golden("wald_f_variety"), 1e-5, "Wald F");
    check_sed(&analysis, |name| golden(&format!("sed/{name}")));
    check_means(&analysis, &case, &format!("{path}/means"), "mean");
    assert!(model.edges.is_empty());
}

#[test]
fn a_lattice_with_autoregression_and_independent_errors() {
    let (case, analysis) = lattice(|case| vec![field(case), Part::residual()]);
    let (model, path) = (&analysis.model, "/computed/ar1_by_ar1_plus_nugget");
    let golden = |name: &str| case.number(&format!("{path}/{name}"));
    close(correlation(model, 0), golden("rho_row"), 1e-4, "rho of rows");
    close(correlation(model, 1), golden("rho_column"), 1e-4, "rho of columns");
    let (trend, nugget) = (part(model, "trend").variances[0].variance, part(model, "residual").variances[0].variance);
    close(trend + nugget, golden("total_variance"), 1e-4, "variance");
    close(nugget / (trend + nugget), golden("nugget_fraction"), 1e-4, "share of independent errors");
    near(model.reml_log_likelihood, golden("reml_loglik"), 1e-6, "log-likelihood");
    close(wald(&analysis), golden("wald_f_variety"), 1e-5, "Wald F");
    check_sed(&analysis, |name| golden(&format!("sed/{name}")));
    check_means(&analysis, &case, &format!("{path}/means"), "mean");
}

// The engine's parts without axes are the mixed model. Golden values by lme4 1.1-31 and pbkrtest 0.5.2.
#[test]
fn units_without_order_are_the_mixed_model() {
    let (case, analysis) = lattice(|case| {
        let units = |columns: &[&str]| Part::units(columns.join(":"), case.classes(columns).1);
        vec![units(&["replicate"]), units(&["replicate", "row"]), units(&["replicate", "column"]), Part::residual()]
    });
    let golden = |name: &str| case.number(&format!("/computed/mixed_rows_columns/{name}"));
    let components = ["replicate:column", "replicate:row", "replicate", "residual"];
    for (index, name) in components.iter().enumerate() {
        let found = analysis.model.parts.iter().find(|part| part.name == *name).unwrap().variances[0].variance;
        close(found, golden(&format!("components/{index}/variance")), 1e-4, name);
    }
    near(analysis.model.reml_log_likelihood, golden("reml_loglik"), 1e-6, "log-likelihood");
    let (labels, _) = case.classes(&["variety"]);
    let means = analysis.fit(labels.clone());
    let rows: Vec<Vec<f64>> = (1..labels.len()).map(|it| crate::case::difference(labels.len(), it, 0)).collect();
    let test = means.f_test(&rows).unwrap();
    close(test.f, golden("tests_kenward_roger/0/f"), 1e-5, "F");
    close(test.den_df, golden("tests_kenward_roger/0/den_df"), 1e-4, "df");
    let pairs = case.list("/computed/means/pairs");
    let mut pair = 0;
    for a in 0..labels.len() {
        for b in a + 1..labels.len() {
            let found = means.contrast(&crate::case::difference(labels.len(), a, b)).unwrap();
            let golden = |name: &str| pairs[pair][name].as_f64().unwrap();
            near(found.estimate, golden("difference"), 1e-5 * golden("se"), "difference");
            close(found.se, golden("se"), 1e-5, "SED");
            close(found.df, golden("df"), 1e-4, "df of a difference");
            pair += 1;
        }
    }
    assert_eq!(pair, pairs.len());
}

/// Varieties with the two contrasts between the three columns of the field as fixed columns.
fn three_columns(parts: impl Fn(Part) -> Vec<Part>) -> (Case, CorrelatedAnalysis) {
    let case = Case::open("wheat-trend-three-columns");
    let (labels, cell) = case.classes(&["variety"]);
    let column = case.numbers("column");
    let indicator = |which: f64| Covariate {
        name: format!("column {which}"),
        unit: None,
        values: column.iter().map(|it| Some(f64::from(u8::from(*it == which)))).collect(),
    };
    let columns = vec![indicator(2.0), indicator(3.0)];
    let observations = Observations { columns, ..Observations::new(case.numbers("yield"), cell, labels.len()) };
    let unit = Unit::Classes(case.classes(&["column"]).1);
    let trend = Part::along("trend", unit, vec![Axis::steps("row", case.numbers("row"))]);
    let analysis = fit(&observations, parts(trend)).unwrap();
    (case, analysis)
}

// Source: Besag & Higdon (1999), JRSS B 61:691-746.
#[test]
fn a_trend_along_three_columns() {
    let (case, analysis) = three_columns(|trend| vec![trend]);
    let golden = |name: &str| case.number(&format!("/computed/ar1/{name}"));
    let model = &analysis.model;
    close(correlation(model, 0), golden("rho"), 1e-4, "rho");
    close(part(model, "trend").variances[0].variance, golden("residual_variance"), 1e-4, "variance");
    near(model.reml_log_likelihood, golden("reml_loglik"), 1e-6, "log-likelihood");
    close(wald(&analysis), golden("wald_f_variety"), 1e-5, "Wald F");
    check_sed(&analysis, |name| golden(&format!("sed/{name}")));
    check_means(&analysis, &case, "/computed/means", "ar1");
}

// With independent errors beside it the likelihood has no interior maximum: the limit is a walk.
#[test]
fn a_trend_whose_correlation_runs_to_one_is_told_as_a_walk() {
    let (case, analysis) = three_columns(|trend| vec![trend, Part::residual()]);
    let golden = |name: &str| case.number(&format!("/computed/linear_variance_plus_nugget/{name}"));
    let model = &analysis.model;
    close(part(model, "trend").variances[0].variance, golden("phi"), 1e-4, "half the variance of a step");
    close(part(model, "residual").variances[0].variance, golden("nugget"), 1e-4, "independent errors");
    near(model.reml_log_likelihood, golden("reml_loglik"), 1e-6, "log-likelihood");
    close(wald(&analysis), golden("wald_f_variety"), 1e-5, "Wald F");
    check_sed(&analysis, |name| golden(&format!("sed/{name}")));
    check_means(&analysis, &case, "/computed/means", "linear_variance");
    let [Edge::NoInteriorMaximum { part, axes, approached_log_likelihood, inward_score }] = model.edges.as_slice()
    else {
        panic!("the limit is not told: {:?}", model.edges)
    };
    assert_eq!((part.as_str(), axes.as_slice()), ("trend", ["row".to_owned()].as_slice()));
    assert!(*approached_log_likelihood < model.reml_log_likelihood && *inward_score <= 0.0);
    assert!(
        model.parts.iter().all(|part| part.axes.iter().all(|axis| axis.correlation.is_none() && axis.se.is_none()))
    );
}
