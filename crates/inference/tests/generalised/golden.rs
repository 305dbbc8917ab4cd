//! Against glmmTMB, and lme4 where quadrature is asked for: see `tests/reference/generalised/make_values.R`.
//!
//! Tolerances: the golden optimum is flat, so log-likelihoods agree to 1e-7, estimates to 1e-3 standard errors at worst; they
//! are held to 1e-4. glmmTMB's covariance is from differences of its gradient.

use crate::table::{Table, close, golden, number, numbers};
use guardrow_inference::Notice;
use guardrow_inference::generalised::{
    CountSpread, DispersionAdvice, FixedColumn, GeneralisedFit, GeneralisedModel, ProportionLink, by_quadrature, fit,
};
use serde_json::Value;

/// Standard errors by which an estimate may differ.
const ESTIMATE: f64 = 1e-4;
/// Relative difference of a standard error.
const SE: f64 = 2e-4;
/// By which our log-likelihood may be lower. It may be higher by as much as the peer stopped early.
const LOG_LIKELIHOOD: f64 = 1e-7;

fn check(name: &str, model: &GeneralisedModel) -> GeneralisedFit {
    let all = golden("generalised");
    let expected = &all[name];
    let fitted = fit(model).unwrap();
    let ahead = fitted.log_likelihood - number(expected, "log_likelihood");
    assert!((-LOG_LIKELIHOOD..1e-5).contains(&ahead), "{name}: log-likelihood ahead by {ahead:e}");
    check_means(name, &fitted, expected);
    for component in &fitted.components {
        let sd = number(&expected["sd"], &component.name);
        close(component.sd, sd, 1e-4 * sd, &format!("{name}: sd of {}", component.name));
    }
    assert!(fitted.evidence.gradient < 1e-6, "{name}: {:?}", fitted.evidence);
    fitted
}

pub fn check_means(name: &str, fitted: &GeneralisedFit, expected: &Value) {
    let fixed = numbers(&expected["fixed"]);
    let covariance: Vec<Vec<f64>> = expected["covariance"].as_array().unwrap().iter().map(numbers).collect();
    let means = fitted.means(0.05).unwrap();
    // where there is a covariate, golden means are at zero of it, ours at its average
    let shift = fitted.columns.first().map_or(0.0, |column| column.average);
    let slope = means.len();
    for (a, mean) in means.iter().enumerate() {
        let se = |row: &dyn Fn(usize) -> f64| row(a).sqrt();
        let at = |b: usize| {
            let mut value = covariance[a][b];
            if shift != 0.0 {
                value +=
                    shift * (covariance[a][slope] + covariance[b][slope]) + shift * shift * covariance[slope][slope];
            }
            value
        };
        let golden_mean = fixed[a] + if shift == 0.0 { 0.0 } else { shift * fixed[slope] };
        let golden_se = se(&at);
        let what = format!("{name}: {}", mean.label);
        close(mean.link.unwrap(), golden_mean, ESTIMATE * golden_se, &what);
        close(mean.link_se.unwrap(), golden_se, SE * golden_se, &format!("{what} se"));
        for b in 0..a {
            let ours = fitted.link_covariance(a, b).unwrap();
            close(ours, at(b), 2.0 * SE * golden_se * golden_se, &format!("{what} covariance with {b}"));
        }
    }
    for (index, column) in fitted.columns.iter().enumerate() {
        let se = covariance[slope + index][slope + index].sqrt();
        close(column.slope, fixed[slope + index], ESTIMATE * se, &column.name);
        close(column.se, se, SE * se, &column.name);
    }
}

const SPLIT_PLOT: &[&[&str]] = &[&["block"], &["main"], &["plot"]];

#[test]
fn a_split_plot_of_proportions_with_plot_effects() {
    let table = Table::open("generalised", "split_plot.csv");
    for (name, link) in [
        ("split_plot_logit", ProportionLink::Logit),
        ("split_plot_probit", ProportionLink::Probit),
        ("split_plot_cloglog", ProportionLink::ComplementaryLogLog),
    ] {
        let fitted = check(name, &table.proportions(("emerged", "sown"), link, &["treatment"], SPLIT_PLOT));
        assert_eq!(fitted.overdispersion.advice, DispersionAdvice::TakenUp);
        assert_eq!(fitted.notices, []);
    }
}

#[test]
fn without_plot_effects_the_advice_is_to_add_them() {
    let table = Table::open("generalised", "split_plot.csv");
    let model = table.proportions(("emerged", "sown"), ProportionLink::Logit, &["treatment"], &SPLIT_PLOT[..2]);
    let fitted = check("split_plot_without_plots", &model);
    assert_eq!(fitted.overdispersion.advice, DispersionAdvice::AddPlotEffect);
    assert_eq!(fitted.overdispersion.df, 42.0 - 11.0);
}

#[test]
fn a_variance_at_zero_is_named_and_the_rest_is_as_without_it() {
    let table = Table::open("generalised", "main_plots_alike.csv");
    let model = table.proportions(("emerged", "sown"), ProportionLink::Logit, &["treatment"], SPLIT_PLOT);
    let all = golden("generalised");
    let fitted = fit(&model).unwrap();
    let expected = &all["main_plots_alike"];
    close(fitted.log_likelihood, number(expected, "log_likelihood"), 1e-7, "log-likelihood");
    check_means("main_plots_alike", &fitted, expected);
    let main = &fitted.components[1];
    assert!(main.at_zero && main.sd == 0.0 && main.sd_se.is_none());
    assert!(fitted.evidence.singular);
    assert_eq!(fitted.notices, [Notice::VarianceAtZero { stratum: "main".into() }]);
    assert!(fitted.units[1].effect.iter().all(|&effect| effect == 0.0));
}

#[test]
fn rows_and_columns_with_an_offset_and_a_covariate() {
    let table = Table::open("generalised", "rows_and_columns.csv");
    let mut model = table.counts("insects", CountSpread::Poisson, &["treatment"], &[&["row"], &["column"]]);
    model.offset = Some(table.numbers("area").iter().map(|area| area.ln()).collect());
    model.columns = vec![FixedColumn { name: "moisture".into(), values: table.numbers("moisture") }];
    check("rows_and_columns", &model);
    model.groupings.push(table.grouping(&["plot"]));
    check("rows_and_columns_plots", &model);
}

#[test]
fn weeds_as_negative_binomial() {
    let table = Table::open("generalised", "weeds.csv");
    for (name, groupings) in [("weeds", &[&["block"][..]][..]), ("weeds_no_blocks", &[])] {
        let fitted = check(name, &table.counts("weeds", CountSpread::NegativeBinomial, &["treatment"], groupings));
        let theta = number(&golden("generalised")[name], "theta");
        close(fitted.negative_binomial.unwrap().theta.unwrap(), theta, 1e-4 * theta, "theta");
    }
}

#[test]
fn single_plants_by_laplace_and_by_quadrature() {
    let mut table = Table::open("generalised", "single_plants.csv");
    table.add("one", "1");
    let model = table.proportions(("diseased", "one"), ProportionLink::Logit, &["treatment"], &[&["block"]]);
    let laplace = check("single_plants", &model);
    let (same, quadrature) = by_quadrature(&model, 25).unwrap();
    assert_eq!(same, laplace);
    let (ours, all) = (quadrature.unwrap(), golden("generalised"));
    let expected = &all["single_plants_quadrature"];
    close(ours.log_likelihood, number(expected, "log_likelihood"), 1e-6, "log-likelihood");
    close(ours.sd[0], number(expected, "sd"), 1e-4, "sd");
    for (ours, golden) in ours.means.iter().zip(numbers(&expected["fixed"])) {
        close(ours.unwrap(), golden, 1e-4, "mean");
    }
    assert!(ours.largest_shift > 1e-3 && ours.largest_shift < 0.1, "{ours:?}");
}

#[test]
fn one_point_of_quadrature_is_laplace() {
    let table = Table::open("generalised", "weeds.csv");
    let model = table.counts("weeds", CountSpread::NegativeBinomial, &["treatment"], &[&["block"]]);
    let (laplace, one) = by_quadrature(&model, 1).unwrap();
    let one = one.unwrap();
    close(one.log_likelihood, laplace.log_likelihood, 1e-8, "log-likelihood");
    assert!(one.largest_shift < 1e-4, "{one:?}");
}

#[test]
fn the_published_latin_square_agrees_with_glmmtmb() {
    let table = Table::open("wireworm-latin-square", "data.csv");
    let rows_alone = table.counts("wireworms", CountSpread::Poisson, &["fumigant"], &[&["row"]]);
    check("wireworms", &rows_alone);
    let both = fit(&table.counts("wireworms", CountSpread::Poisson, &["fumigant"], &[&["row"], &["column"]])).unwrap();
    check_means("wireworms", &both, &golden("generalised")["wireworms"]);
}
