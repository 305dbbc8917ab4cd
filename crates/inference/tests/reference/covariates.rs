//! Analysis of covariance.

use crate::case::{Case, Layout, block_and_plot, names};
use crate::compare::{CLASSICAL, MIXED, Tolerance, check_means, check_pairs, check_row, check_tests, close, close_p};
use crate::randomised_blocks::check_components;
use guardrow_inference::{Analysis, Covariate, Experiment, FixedUnitsWhen, Lead, Method, Notice, Options, analyse};

fn beets(case: &Case) -> Experiment {
    let mut experiment = case.experiment(&Layout {
        blocks: block_and_plot(),
        units: &[("block", &["block"])],
        factors: &[names("fertilizer")],
        control: None,
        response: "yield",
    });
    let values = case.rows.iter().map(|row| row["plants"].parse().ok()).collect();
    experiment.covariates = vec![Covariate { name: "plants".into(), unit: Some("plants per plot".into()), values }];
    experiment
}

fn run(experiment: &Experiment, method: Method) -> Analysis {
    let options = Options { method, fixed_units: FixedUnitsWhen::Always, ..Options::default() };
    analyse(experiment, &options).expect("the case can be analysed")
}

// Source: Snedecor (1946), table 12.13; golden values R 4.2.2 (lm, aov, lme4, pbkrtest, emmeans), slope and adjusted means
// also by the textbook's sums of products.
#[test]
fn beet_yield_adjusted_for_stand() {
    let case = Case::open("beet-yield-adjusted-for-stand");
    let analysis = run(&beets(&case), Method::ByLayout);
    assert_eq!(analysis.lead, Lead::Strata);
    let result = &analysis.covariates[0];
    close(result.mean, case.number("covariate_mean"), 1e-12, "mean of the covariate");
    let slope = result.slope.unwrap();
    close(slope.estimate, case.number("slope/estimate"), 1e-8, "slope");
    close(slope.se, case.number("slope/se"), 1e-8, "its error");
    close_p(result.p.unwrap(), case.number("slope/p"), 1e-7, "its p");
    let parallel = result.parallel.unwrap();
    close(parallel.f, case.number("common_slope_test/f"), 1e-8, "F of separate slopes");
    assert_eq!(
        (parallel.num_df, parallel.den_df),
        (case.number("common_slope_test/df1"), case.number("common_slope_test/df2"))
    );
    close_p(parallel.p, case.number("common_slope_test/p"), 1e-7, "its p");
    let plots = analysis.strata.as_ref().unwrap().stratum("plot").unwrap();
    let residual = plots.row("residual").unwrap();
    close(residual.ms, case.number("residual_ms"), 1e-8, "error");
    assert_eq!(residual.df, case.number("residual_df"));
    let golden = |path: &str, source: &str| {
        let rows = case.computed(path).as_array().unwrap();
        rows.iter().find(|row| row["source"] == source).unwrap().clone()
    };
    check_row(plots.row("fertilizer").unwrap(), &golden("ancova_covariate_before_treatment", "fertilizer"));
    check_row(plots.row("plants").unwrap(), &golden("ancova_treatment_before_covariate", "plants"));
    check_pairs(analysis.table(&["fertilizer"]).unwrap(), case.computed("means_adjusted"), CLASSICAL);
    let fixed = analysis.fixed_units.as_ref().unwrap();
    check_means(&fixed.tables[0], case.computed("means_adjusted"), &["fertilizer"], CLASSICAL);
    for (ours, golden) in
        fixed.sequential.iter().zip(case.computed("ancova_covariate_before_treatment").as_array().unwrap())
    {
        check_row(ours, golden);
    }
    let of_covariate = golden("anova_of_covariate", "fertilizer");
    close(result.affected[0].f, of_covariate["f"].as_f64().unwrap(), 1e-8, "F of treatments on the covariate");
    let is_warned = analysis.notices.iter().any(|it| matches!(it, Notice::CovariateAffected { .. }));
    assert_eq!(is_warned, of_covariate["p"].as_f64().unwrap() < 0.05);
}

// Source: as above, blocks random.
#[test]
fn beet_yield_adjusted_for_stand_by_the_mixed_model() {
    let case = Case::open("beet-yield-adjusted-for-stand");
    let analysis = run(&beets(&case), Method::Mixed);
    check_components(&case, &analysis, "mixed_blocks_random", &["block"]);
    // the golden tests are in order, plants first; ours of fertilizer is given plants, the slope's t squared is the golden's marginal
    let golden = case.computed("mixed_blocks_random/tests_kenward_roger").as_array().unwrap();
    let fertilizer =
        serde_json::Value::Array(golden.iter().filter(|row| row["source"] == "fertilizer").cloned().collect());
    check_tests(&analysis.tests, &fertilizer, &["fertilizer"]);
    let tolerance = Tolerance { ..MIXED };
    check_means(analysis.table(&["fertilizer"]).unwrap(), case.computed("means_mixed"), &["fertilizer"], tolerance);
    check_pairs(analysis.table(&["fertilizer"]).unwrap(), case.computed("means_mixed"), tolerance);
}
