//! Variances by the restricted likelihood: against glmmTMB with `REML = TRUE` (`tests/reference/generalised-restricted`), against
//! the linear mixed model where counting hardly matters, and what must hold for every data set.

use crate::golden::check_means;
use crate::properties::{picked, reordered, same, split_plot, successes};
use crate::table::{Table, close, golden, number};
use guardrow_design::{BlockStructure, Factor, Level, Scale, TreatmentStructure};
use guardrow_inference::generalised::{
    CountSpread, FittedLikelihood, FixedColumn, GeneralisedFit, GeneralisedModel, Grouping, Observed, ProportionLink,
    fit, fit_restricted, likelihood_ratio,
};
use guardrow_inference::{Experiment, InferenceError, Method, Notice, Options, analyse};
use proptest::prelude::*;

const SPLIT_PLOT: &[&[&str]] = &[&["block"], &["main"], &["plot"]];

/// The golden optimum is flat, so log-likelihoods agree to 1e-7, standard deviations to 1e-4.
fn check(name: &str, model: &GeneralisedModel) -> GeneralisedFit {
    let all = golden("generalised-restricted");
    let expected = &all[name];
    let fitted = fit_restricted(model).unwrap();
    assert_eq!(fitted.likelihood, FittedLikelihood::Restricted);
    let ahead = fitted.log_likelihood - number(expected, "log_likelihood");
    assert!((-1e-7..1e-6).contains(&ahead), "{name}: log-likelihood ahead by {ahead:e}");
    for component in fitted.components.iter().filter(|it| !it.at_zero) {
        let sd = number(&expected["sd"], &component.name);
        close(component.sd, sd, 1e-4 * sd, &format!("{name}: sd of {}", component.name));
    }
    if let Some(theta) = fitted.negative_binomial.and_then(|it| it.theta) {
        let expected = number(expected, "theta");
        close(theta, expected, 1e-4 * expected, &format!("{name}: theta"));
    }
    check_means(name, &fitted, expected);
    assert!(fitted.evidence.gradient < 1e-6, "{name}: {:?}", fitted.evidence);
    fitted
}

#[test]
fn a_split_plot_of_proportions() {
    let table = Table::open("generalised", "split_plot.csv");
    for (name, link) in [
        ("split_plot_logit", ProportionLink::Logit),
        ("split_plot_probit", ProportionLink::Probit),
        ("split_plot_cloglog", ProportionLink::ComplementaryLogLog),
    ] {
        check(name, &table.proportions(("emerged", "sown"), link, &["treatment"], SPLIT_PLOT));
    }
    check("blocks", &table.proportions(("emerged", "sown"), ProportionLink::Logit, &["treatment"], &SPLIT_PLOT[..1]));
}

#[test]
fn a_variance_at_zero_is_named_and_the_rest_is_as_without_it() {
    let table = Table::open("generalised", "main_plots_alike.csv");
    let fitted = check(
        "main_plots_alike",
        &table.proportions(("emerged", "sown"), ProportionLink::Logit, &["treatment"], SPLIT_PLOT),
    );
    let main = &fitted.components[1];
    assert!(main.at_zero && main.sd == 0.0 && main.sd_se.is_none());
    assert!(fitted.evidence.singular);
    assert_eq!(fitted.notices, [Notice::VarianceAtZero { stratum: "main".into() }]);
}

#[test]
fn rows_and_columns_with_an_offset_and_a_covariate() {
    let table = Table::open("generalised", "rows_and_columns.csv");
    let groupings: &[&[&str]] = &[&["row"], &["column"], &["plot"]];
    let mut model = table.counts("insects", CountSpread::Poisson, &["treatment"], groupings);
    model.offset = Some(table.numbers("area").iter().map(|area| area.ln()).collect());
    model.columns = vec![FixedColumn { name: "moisture".into(), values: table.numbers("moisture") }];
    check("rows_and_columns", &model);
}

#[test]
fn the_published_latin_square() {
    let mut table = Table::open("wireworm-latin-square", "data.csv");
    table.number_rows("plot");
    let groupings: &[&[&str]] = &[&["row"], &["column"], &["plot"]];
    let fitted = check("wireworms", &table.counts("wireworms", CountSpread::Poisson, &["fumigant"], groupings));
    assert!(fitted.components[1].at_zero, "{:?}", fitted.components);
}

#[test]
fn weeds_and_webworms_in_blocks() {
    let mut weeds = Table::open("generalised", "weeds.csv");
    weeds.number_rows("plot");
    let model = |spread, groupings| weeds.counts("weeds", spread, &["treatment"], groupings);
    check("weeds_poisson", &model(CountSpread::Poisson, &[&["block"], &["plot"]]));
    check("weeds", &model(CountSpread::NegativeBinomial, &[&["block"]]));
    check("weeds_no_blocks", &model(CountSpread::NegativeBinomial, &[]));
    let webworms = Table::open("beet-webworm-counts", "data.csv");
    let treatment = &["contact_spray", "lead_arsenate"];
    let mut model = webworms.counts("webworms", CountSpread::NegativeBinomial, treatment, &[&["block"]]);
    model
        .groupings
        .push(Grouping { name: "plot".into(), ..webworms.grouping(&["block", "contact_spray", "lead_arsenate"]) });
    check("webworms", &model);
}

/// Three main treatments, four within, four blocks; seedlings per plot so many that counting adds next to nothing: the two
/// differ by about the variance of counting (4e-7) over that of plots (0.1). With more, rounding hides where maximum likelihood ends.
#[test]
fn with_enormous_counts_it_is_reml_on_the_links_scale() {
    let scattered = |index: usize| ((index * 7919 + 104_729) % 1013) as f64 / 1013.0 - 0.5;
    let (blocks, of_a, of_b) = (4, 3, 4);
    let plots = blocks * of_a * of_b;
    let eta: Vec<f64> = (0..plots)
        .map(|plot| {
            scattered(plot / 12) + 1.2 * scattered(plot / 4 + 40) + scattered(plot + 200) + 0.1 * (plot % 4) as f64
        })
        .collect();
    let trials = 1e7_f64;
    let successes: Vec<f64> = eta.iter().map(|eta| (trials / (1.0 + (-eta).exp())).round()).collect();
    let counts: Vec<f64> = eta.iter().map(|eta| (3e6 * eta.exp()).round()).collect();
    let level = |label: String| Level { label, amount: None };
    let factor = |name: &str, levels: usize| Factor {
        name: name.to_owned(),
        scale: Scale::Qualitative,
        levels: (0..levels).map(|it| level(format!("{name}{it}"))).collect(),
    };
    let nested = BlockStructure::unit("block").nest(BlockStructure::unit("main")).nest(BlockStructure::unit("plot"));
    let column = |size: usize| (0..plots).map(|plot| plot / size).collect::<Vec<_>>();
    let treatment: Vec<usize> = (0..plots).map(|plot| plot % 12).collect();
    let experiment = Experiment::new(
        nested,
        vec![("block".into(), column(12)), ("main".into(), column(4))],
        TreatmentStructure { factors: vec![factor("a", of_a), factor("b", of_b)], controls: Vec::new() },
        treatment.clone(),
        eta.iter().copied().map(Some).collect(),
    );
    let linear = analyse(&experiment, &Options { method: Method::Mixed, ..Options::default() }).unwrap();
    let linear = linear.mixed.unwrap();
    let expected = linear.components.iter().map(|it| it.variance).chain([linear.residual_variance]);
    for observed in [
        Observed::Proportions { successes, trials: vec![trials; plots], link: ProportionLink::Logit },
        Observed::Counts { counts, spread: CountSpread::Poisson },
    ] {
        let grouping = |name: &str, classes, class| Grouping { name: name.into(), class, classes };
        let model = GeneralisedModel {
            observed,
            treatments: (0..12).map(|it| it.to_string()).collect(),
            treatment: treatment.clone(),
            columns: Vec::new(),
            offset: None,
            groupings: vec![
                grouping("block", 4, column(12)),
                grouping("main", 12, column(4)),
                Grouping::each_observation("plot", plots),
            ],
        };
        let fitted = fit_restricted(&model).unwrap();
        for (ours, expected) in fitted.components.iter().zip(expected.clone()) {
            assert!(expected > 0.0, "{linear:?}");
            close(ours.variance, expected, 1e-5 * expected, &ours.name);
        }
        let se = fitted.contrast(&[1.0, -1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]).unwrap().se;
        close(se, (2.0 * linear.residual_variance / blocks as f64).sqrt(), 1e-5 * se, "standard error");
        // maximum likelihood divides by plots, not by what is left after the means
        let full = fit(&model).unwrap();
        assert_eq!(full.likelihood, FittedLikelihood::Full);
        let ratio = full.components[2].variance / fitted.components[2].variance;
        close(ratio, 0.75, 1e-5, "shrinkage of plots by maximum likelihood");
    }
}

#[test]
fn restricted_likelihoods_of_different_fixed_parts_are_not_compared() {
    let table = Table::open("generalised", "split_plot.csv");
    let model = |treatment: &[&str], units| {
        table.proportions(("emerged", "sown"), ProportionLink::Logit, treatment, &SPLIT_PLOT[..units])
    };
    let whole = model(&["treatment"], 3);
    let (full, reduced) = (fit_restricted(&whole).unwrap(), fit_restricted(&model(&["treatment"], 2)).unwrap());
    let test = likelihood_ratio(&full, &reduced).unwrap();
    assert!(test.df == 1.0 && test.chi_square > 0.0);
    let differs = |reduced: &GeneralisedFit| {
        assert!(matches!(likelihood_ratio(&full, reduced), Err(InferenceError::LikelihoodsNotComparable { .. })));
    };
    differs(&fit_restricted(&model(&["main"], 1)).unwrap());
    differs(&fit(&whole).unwrap());
    let mut with_column = whole.clone();
    with_column.columns = vec![FixedColumn { name: "order".into(), values: (0..42).map(f64::from).collect() }];
    differs(&fit_restricted(&with_column).unwrap());
}

#[test]
fn the_unit_of_a_covariate_moves_the_constant_and_nothing_else() {
    let table = Table::open("generalised", "rows_and_columns.csv");
    let fitted = |unit: f64| {
        let mut model = table.counts("insects", CountSpread::Poisson, &["treatment"], &[&["row"], &["plot"]]);
        let values = table.numbers("moisture").iter().map(|it| it * unit).collect();
        model.columns = vec![FixedColumn { name: "moisture".into(), values }];
        fit_restricted(&model).unwrap()
    };
    let (one, ten) = (fitted(1.0), fitted(10.0));
    // a slope per unit is ten times smaller, and so is the volume that it is integrated over
    close(one.log_likelihood - ten.log_likelihood, 10.0_f64.ln(), 1e-8, "log-likelihood");
    close(one.components[0].sd, ten.components[0].sd, 1e-6, "sd");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 30, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_rows_does_not_matter(y in successes(), order in Just((0..30).collect::<Vec<_>>()).prop_shuffle()) {
        let mut model = split_plot(Observed::Counts { counts: y, spread: CountSpread::Poisson });
        let values: Vec<f64> = (0..30).map(|plot| ((plot * 11) % 7) as f64).collect();
        let mut turned = reordered(&model, &order);
        turned.columns = vec![FixedColumn { name: "x".into(), values: picked(&values, &order) }];
        model.columns = vec![FixedColumn { name: "x".into(), values }];
        prop_assert!(same(&fit_restricted(&model).unwrap(), &fit_restricted(&turned).unwrap(), |it| it));
    }

    #[test]
    fn one_variance_is_never_below_that_of_maximum_likelihood(y in successes()) {
        let mut model = split_plot(Observed::Proportions { trials: vec![40.0; 30], successes: y, link: ProportionLink::Logit });
        model.groupings.drain(..2);
        let (full, restricted) = (fit(&model).unwrap(), fit_restricted(&model).unwrap());
        prop_assert!(restricted.components[0].sd >= full.components[0].sd);
        prop_assert!(restricted.evidence.gradient < 1e-5, "{:?}", restricted.evidence);
    }
}
