//! Completely random trials.

use crate::case::{Case, Layout, amounts, names};
use crate::compare::{CLASSICAL, check_dunnett, check_means, check_pairs, check_row, close, close_p};
use guardrow_design::BlockStructure;
use guardrow_inference::{ALL_TREATMENTS, CONTROLS_AND_FACTORIAL, DunnettMethod, Lead, Notice};

fn plots_only<'a>(factors: &'a [crate::case::FactorColumn], response: &'static str) -> Layout<'a> {
    Layout { blocks: BlockStructure::unit("plot"), units: &[], factors, control: None, response }
}

// Source: Dobson (1983); golden values R 4.2.2 (aov, emmeans) and exact quadrature.
#[test]
fn plant_dry_weight_as_one_factor() {
    let case = Case::open("plant-dry-weight");
    let analysis = case.analyse(&plots_only(&[names("treatment")], "dry_weight"));
    let plots = analysis.strata.as_ref().unwrap().stratum("plot").unwrap();
    check_row(plots.row("treatment").unwrap(), &case.computed("anova")[0]);
    check_row(plots.row("residual").unwrap(), &case.computed("anova")[1]);
    close(analysis.cv[0].percent.unwrap(), case.number("cv_pct"), 1e-8, "CV");
    let table = analysis.table(&["treatment"]).unwrap();
    check_means(table, case.computed("means"), &["treatment"], CLASSICAL);
    check_pairs(table, case.computed("means"), CLASSICAL);
    assert_eq!((analysis.lead, analysis.orthogonal, analysis.mixed.is_none()), (Lead::Strata, true, true));
}

// Source: as above; the control here stands outside the factor. Equivalence margins as in the golden file.
#[test]
fn plant_dry_weight_against_its_control() {
    let case = Case::open("plant-dry-weight");
    let factors = [names("treatment")];
    let analysis = case.analyse(&Layout { control: Some(("treatment", "ctrl")), ..plots_only(&factors, "dry_weight") });
    let table = analysis.table(&[]).unwrap();
    assert_eq!(table.label, ALL_TREATMENTS);
    assert_eq!(table.against_control[0].method, DunnettMethod::Exact);
    check_dunnett(&table.against_control[0], case.computed("dunnett"), str::to_owned);
    for (key, weights, margin) in [
        ("trt1_margin_1.0", [1.0, 0.0, -1.0], 1.0),
        ("trt2_margin_1.0", [0.0, 1.0, -1.0], 1.0),
        ("trt1_margin_0.5", [1.0, 0.0, -1.0], 0.5),
    ] {
        let golden = &case.computed("equivalence")[key];
        let estimate = analysis.contrast(&weights).unwrap();
        let tested = estimate.equivalence(margin, 0.05).unwrap();
        close(estimate.estimate, golden["difference"].as_f64().unwrap(), 1e-8, key);
        close(estimate.se, golden["se"].as_f64().unwrap(), 1e-8, key);
        close_p(tested.p_above, golden["p_lower"].as_f64().unwrap(), 1e-7, key);
        close_p(tested.p_below, golden["p_upper"].as_f64().unwrap(), 1e-7, key);
        close_p(tested.p, golden["p_tost"].as_f64().unwrap(), 1e-7, key);
        close(tested.lower, golden["ci90_lower"].as_f64().unwrap(), 1e-8, key);
        close(tested.upper, golden["ci90_upper"].as_f64().unwrap(), 1e-8, key);
        assert_eq!(tested.equivalent, golden["equivalent_at_5pct"].as_bool().unwrap());
    }
}

// Source: Cochran & Cox (1957); golden values R 4.2.2 (aov, emmeans) and exact quadrature.
#[test]
fn potato_scab_as_seven_treatments() {
    let case = Case::open("potato-scab-sulphur");
    let analysis = case.analyse(&plots_only(&[names("treatment")], "scab"));
    let plots = analysis.strata.as_ref().unwrap().stratum("plot").unwrap();
    check_row(plots.row("treatment").unwrap(), &case.computed("anova")[0]);
    check_row(plots.row("residual").unwrap(), &case.computed("anova")[1]);
    close(analysis.cv[0].percent.unwrap(), case.number("cv_pct"), 1e-8, "CV");
    close(analysis.grand_mean, case.number("grand_mean"), 1e-8, "grand mean");
    let table = analysis.table(&["treatment"]).unwrap();
    check_means(table, case.computed("means"), &["treatment"], CLASSICAL);
    check_pairs(table, case.computed("means"), CLASSICAL);
}

// Source: as above: two seasons x three rates beside a control with twice the plots.
#[test]
fn potato_scab_as_factorial_beside_a_control() {
    let case = Case::open("potato-scab-sulphur");
    let factors = [names("season"), amounts("sulphur_rate", "lb/ac")];
    let analysis = case.analyse(&Layout { control: Some(("treatment", "control")), ..plots_only(&factors, "scab") });
    let plots = analysis.strata.as_ref().unwrap().stratum("plot").unwrap();
    let sources = [CONTROLS_AND_FACTORIAL, "season", "sulphur_rate", "season x sulphur_rate"];
    for (source, golden) in sources.iter().zip(case.computed("partition_of_treatments").as_array().unwrap()) {
        check_row(plots.row(source).unwrap(), golden);
    }
    assert!(!analysis.notices.contains(&Notice::UnequalReplication));
    let table = &analysis.table(&[]).unwrap().against_control[0];
    let label = |code: &str| {
        let row = case.rows.iter().find(|row| row["treatment"] == code).unwrap();
        format!("{}, {}", row["season"], row["sulphur_rate"])
    };
    check_dunnett(table, case.computed("dunnett"), label);
    check_rate_trend(&case, &analysis);
}

fn check_rate_trend(case: &Case, analysis: &guardrow_inference::Analysis) {
    // the golden contrasts run over rising rates; the table has them in the order of the field
    let trend = analysis.trend("sulphur_rate", 2).unwrap();
    for (ours, golden) in trend.terms.iter().zip(case.computed("rate_trend_within_sulphur").as_array().unwrap()) {
        close(ours.contrast.estimate, golden["estimate_orthonormal"].as_f64().unwrap(), 1e-8, &ours.name);
        close(ours.contrast.se, golden["se"].as_f64().unwrap(), 1e-8, &ours.name);
        close(ours.f, golden["f"].as_f64().unwrap(), 1e-8, &ours.name);
        close_p(ours.p, golden["p"].as_f64().unwrap(), 1e-7, &ours.name);
    }
}

// Source: NIST Statistical Reference Datasets, certified values, which have 15 digits at most. How many digits agree stands in
// `docs/numbers/certified-sets.md`; see `tests/certified`.
#[test]
fn certified_one_way_sets() {
    let sets = [
        ("sirstv", 1e-12),
        ("smls01", 1e-12),
        ("smls02", 1e-12),
        ("smls04", 1e-12),
        ("smls05", 1e-12),
        ("smls07", 1e-12),
    ];
    for (name, tolerance) in sets {
        let case = Case::open(&format!("nist/{name}"));
        let analysis = case.analyse(&plots_only(&[names("treatment")], "response"));
        let certified = &case.expected["published"]["certified"];
        let plots = analysis.strata.as_ref().unwrap().stratum("plot").unwrap();
        let (between, within) = (plots.row("treatment").unwrap(), plots.row("residual").unwrap());
        let golden = |key: &str| certified[key].as_f64().unwrap();
        assert_eq!((between.df, within.df), (golden("between_df"), golden("within_df")));
        close(between.ss, golden("between_ss"), tolerance, name);
        close(within.ss, golden("within_ss"), tolerance, name);
        close(between.f.unwrap(), golden("f"), tolerance, name);
        close(within.ms.sqrt(), golden("residual_sd"), tolerance, name);
    }
}
