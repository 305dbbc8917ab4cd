//! Plots lost.

use crate::case::{Case, Layout, block_and_plot, names};
use crate::compare::{CLASSICAL, MIXED, check_means, check_pairs, check_row, check_tests, close, close_or, close_p};
use crate::randomised_blocks::check_components;
use guardrow_inference::{Lead, Notice};

fn layout<'a>(factors: &'a [crate::case::FactorColumn]) -> Layout<'a> {
    Layout { blocks: block_and_plot(), units: &[("block", &["block"])], factors, control: None, response: "infection" }
}

// Source: Yates (1933); golden values R 4.2.2 (lm, lme4, pbkrtest, emmeans).
#[test]
fn potato_infection_as_eight_treatments() {
    let case = Case::open("potato-fertilizer-missing-plots");
    let analysis = case.analyse(&layout(&[names("treatment")]));
    assert_eq!((analysis.lead, analysis.orthogonal, analysis.plots_used), (Lead::Mixed, false, 71));
    assert!(analysis.notices.contains(&Notice::MissingPlots { plots: 9 }));
    check_tests(&analysis.tests, case.computed("mixed_blocks_random/tests_kenward_roger"), &["treatment"]);
    check_components(&case, &analysis, "mixed_blocks_random", &["block"]);
    let table = analysis.table(&["treatment"]).unwrap();
    check_means(table, case.computed("means_blocks_random"), &["treatment"], MIXED);
    check_pairs(table, case.computed("means_blocks_random"), MIXED);
    let fixed = analysis.fixed_units.as_ref().unwrap();
    for (ours, golden) in
        fixed.sequential.iter().zip(case.computed("anova_sequential_blocks_first").as_array().unwrap())
    {
        check_row(ours, golden);
    }
    check_means(&fixed.tables[0], case.computed("means_blocks_fixed"), &["treatment"], CLASSICAL);
    check_pairs(&fixed.tables[0], case.computed("means_blocks_fixed"), CLASSICAL);
    for (ours, golden) in fixed.missing_plots.iter().zip(case.computed("missing_plot_estimates").as_array().unwrap()) {
        let row = &case.rows[ours.plot];
        assert_eq!(
            (row["block"].as_str(), row["treatment"].as_str()),
            (golden["block"].as_str().unwrap(), golden["treatment"].as_str().unwrap())
        );
        close(ours.estimate, golden["estimate"].as_f64().unwrap(), 1e-8, "missing plot");
    }
    assert_eq!(fixed.missing_plots.len(), 9);
}

// Source: as above, as a 2 x 2 x 2 factorial with blocks fixed, terms in order and each given all others.
#[test]
fn potato_infection_as_a_factorial() {
    let case = Case::open("potato-fertilizer-missing-plots");
    let analysis = case.analyse(&layout(&[names("nitrogen"), names("phosphorus"), names("potassium")]));
    let fixed = analysis.fixed_units.as_ref().unwrap();
    let golden = case.computed("factorial_sequential").as_array().unwrap();
    assert_eq!(fixed.sequential.len(), golden.len());
    for (ours, golden) in fixed.sequential.iter().zip(golden) {
        check_row(ours, golden);
    }
    for (ours, golden) in fixed.marginal.iter().zip(&case.computed("factorial_type3").as_array().unwrap()[2..9]) {
        assert_eq!(ours.source.replace(" x ", ":"), golden["source"].as_str().unwrap());
        close(ours.ss, golden["ss"].as_f64().unwrap(), 1e-8, &ours.source);
        close(ours.f.unwrap(), golden["f"].as_f64().unwrap(), 1e-8, &ours.source);
        close_p(ours.p.unwrap(), golden["p"].as_f64().unwrap(), 1e-7, &ours.source);
    }
    for factor in ["nitrogen", "phosphorus", "potassium"] {
        let table = fixed.tables.iter().find(|table| table.term == [factor]).unwrap();
        check_means(table, case.computed(&format!("factorial_main_effect_means/{factor}")), &[factor], CLASSICAL);
    }
    close_or(fixed.residual_ms, case.number("residual_ms"), 1e-8, 0.0, "error");
    assert_eq!(fixed.residual_df, case.number("residual_df"));
}
