//! Layouts that the general block structure gives without code of their own.

use crate::case::{Case, Layout, amounts, names};
use crate::compare::{
    CLASSICAL, MIXED, check_dunnett, check_means, check_pairs, check_row, check_strata, check_tests, close,
};
use crate::randomised_blocks::check_components;
use guardrow_design::BlockStructure;
use guardrow_inference::{FixedUnitsWhen, Options};

// Source: Gomez & Gomez (1984), p. 110; golden values R 4.2.2 (aov with Error strata, lme4, pbkrtest, emmeans).
#[test]
fn rice_variety_by_nitrogen_in_strips() {
    let case = Case::open("rice-variety-nitrogen-strip-plot");
    let factors = [names("variety"), amounts("nitrogen", "kg/ha")];
    let unit = BlockStructure::unit;
    let layout = Layout {
        blocks: unit("block").nest(unit("strip along").cross(unit("strip across"))),
        units: &[("block", &["block"]), ("strip along", &["variety"]), ("strip across", &["nitrogen"])],
        factors: &factors,
        control: None,
        response: "grain_yield",
    };
    let analysis = case.analyse(&layout);
    let rows = [
        ("block", "residual"),
        ("strip along", "variety"),
        ("strip along", "residual"),
        ("strip across", "nitrogen"),
        ("strip across", "residual"),
        ("strip along x strip across", "variety x nitrogen"),
        ("strip along x strip across", "residual"),
    ];
    check_strata(analysis.strata.as_ref().unwrap(), case.computed("anova_strata"), &rows);
    check_components(&case, &analysis, "mixed", &["block", "block:variety", "block:nf"]);
    let terms = ["variety", "nitrogen", "variety x nitrogen"];
    check_tests(&analysis.other_tests, case.computed("mixed/tests_kenward_roger"), &terms);
    for (term, keys, golden) in [
        (&["variety"][..], &["variety"][..], "means_variety"),
        (&["nitrogen"], &["nf"], "means_nitrogen"),
        (&["variety", "nitrogen"], &["variety", "nf"], "means_cells"),
    ] {
        let table = analysis.table(term).unwrap();
        check_means(table, case.computed(golden), keys, MIXED);
        check_pairs(table, case.computed(golden), MIXED);
    }
    for (index, key) in [(1, "horizontal"), (2, "vertical"), (3, "interaction")] {
        close(analysis.cv[index].percent.unwrap(), case.number(&format!("cv_pct/{key}")), 1e-8, key);
    }
}

// Source: Goulden (1952), p. 216; golden values R 4.2.2 (aov, lme4, emmeans) and exact quadrature.
#[test]
fn wheat_rust_in_a_latin_square() {
    let case = Case::open("wheat-rust-latin-square");
    let factors = [names("dusting")];
    let layout = Layout {
        blocks: BlockStructure::unit("row").cross(BlockStructure::unit("column")),
        units: &[("row", &["row"]), ("column", &["column"])],
        factors: &factors,
        control: None,
        response: "grain_yield",
    };
    let analysis = case.analyse_with(&layout, &Options { fixed_units: FixedUnitsWhen::Always, ..Options::default() });
    let fixed = analysis.fixed_units.as_ref().unwrap();
    for (ours, golden) in fixed.sequential.iter().zip(case.computed("anova").as_array().unwrap()) {
        check_row(ours, golden);
    }
    let plots = analysis.strata.as_ref().unwrap().stratum("row x column").unwrap();
    check_row(plots.row("dusting").unwrap(), &case.computed("anova")[2]);
    check_components(&case, &analysis, "mixed_rows_columns_random", &["row", "column"]);
    check_tests(&analysis.other_tests, case.computed("mixed_rows_columns_random/tests_kenward_roger"), &["dusting"]);
    check_pairs(analysis.table(&["dusting"]).unwrap(), case.computed("means"), CLASSICAL);
    check_means(&fixed.tables[0], case.computed("means"), &["dusting"], CLASSICAL);
    let with_control = case.analyse(&Layout { control: Some(("dusting", "not_dusted")), ..layout });
    check_dunnett(&with_control.table(&[]).unwrap().against_control[0], case.computed("dunnett"), str::to_owned);
}
