//! Incomplete blocks, rows and columns, augmented designs; entries fixed and as a sample.

use crate::case::{Case, Layout, names, with_levels_in_order};
use crate::compare::{MIXED, check_pairs, check_tests, close, close_or};
use crate::randomised_blocks::check_components;
use guardrow_design::{BlockStructure, Control, TreatmentStructure};
use guardrow_inference::{Analysis, Experiment, Lead, Notice, Options, PredictionTable, Scope, analyse};
use std::collections::HashMap;

fn unit(name: &str) -> BlockStructure {
    BlockStructure::unit(name)
}

fn run(experiment: &Experiment) -> Analysis {
    analyse(experiment, &Options::default()).expect("the case can be analysed")
}

fn predicted<'a>(analysis: &'a Analysis, label: &str) -> &'a PredictionTable {
    analysis.predictions.iter().find(|table| table.label == label).expect("the term is random")
}

fn oats(case: &Case) -> Experiment {
    case.experiment(&Layout {
        blocks: unit("replicate").nest(unit("block").nest(unit("plot"))),
        units: &[("replicate", &["replicate"]), ("block", &["incomplete_block"])],
        factors: &[names("variety")],
        control: None,
        response: "yield",
    })
}

// Source: John & Williams (1995), p. 146; golden values R 4.2.2 (lme4, pbkrtest, emmeans). Replicates are whole, so that
// comparisons of varieties are the same with replicates fixed (as in the golden means) or random.
#[test]
fn oats_in_an_alpha_design() {
    let case = Case::open("oats-alpha-design");
    let analysis = run(&with_levels_in_order(oats(&case)));
    assert_eq!(analysis.lead, Lead::Mixed);
    check_components(&case, &analysis, "mixed_replicate_random", &["replicate", "replicate:incomplete_block"]);
    check_tests(&analysis.tests, case.computed("mixed_replicate_random/tests_kenward_roger"), &["variety"]);
    let satterthwaite = analysis.satterthwaite_tests().unwrap();
    check_tests(&satterthwaite, case.computed("mixed_replicate_random/tests_satterthwaite"), &["variety"]);
    check_pairs(analysis.table(&["variety"]).unwrap(), case.computed("means_mixed"), MIXED);
    let mean_square = |table: &guardrow_inference::MeansTable| {
        table.pairs.iter().map(|pair| pair.se * pair.se).sum::<f64>() / table.pairs.len() as f64
    };
    let golden = case.number("efficiency_vs_rcb/mixed_avg_variance_of_difference");
    close(mean_square(analysis.table(&["variety"]).unwrap()), golden, 1e-5, "mean variance of a difference");
}

#[test]
fn oats_entries_as_a_sample() {
    let case = Case::open("oats-alpha-design");
    let mut experiment = oats(&case);
    experiment.random_factors = vec!["variety".into()];
    let analysis = run(&experiment);
    assert!(analysis.tests.is_empty() && analysis.tables.is_empty());
    let varieties = predicted(&analysis, "variety");
    let golden = |path: &str| case.number(&format!("varieties_random/{path}"));
    close(varieties.variance, golden("components/0/variance"), 1e-4, "variance of varieties");
    close(predicted(&analysis, "block").variance, golden("components/1/variance"), 1e-4, "variance of blocks");
    for golden in case.computed("varieties_random/blup").as_array().unwrap() {
        let row = varieties.rows.iter().find(|row| row.label == golden["variety"]).unwrap();
        let allowed = 1e-5 * row.prediction_se;
        close_or(row.effect, golden["blup"].as_f64().unwrap(), 1e-5, allowed, &row.label);
        close(row.prediction_se, golden["se_prediction"].as_f64().unwrap(), 1e-5, &row.label);
    }
    close(varieties.heritability.unwrap(), golden("heritability_cullis"), 1e-5, "heritability");
    let refused = analysis.contrast(&(0..24).map(|it| f64::from(it == 0)).collect::<Vec<_>>());
    assert_eq!(refused, Err(guardrow_inference::InferenceError::SampledLevels));
}

// Source: John & Williams (1995), p. 146; golden values R 4.2.2 (lm, emmeans) with replicates and blocks fixed.
#[test]
fn oats_compared_within_blocks_only() {
    let case = Case::open("oats-alpha-design");
    let fixed = run(&oats(&case)).fixed_units.expect("varieties can be compared within blocks");
    close(fixed.residual_ms, case.number("intra_block_residual_ms"), 1e-8, "residual MS");
    assert_eq!(fixed.residual_df, case.number("intra_block_residual_df"));
    for golden in case.computed("intra_block_means").as_array().unwrap() {
        let cell = fixed.tables[0].cells.iter().find(|cell| cell.label == golden["variety"]).unwrap();
        close(cell.mean, golden["emmean"].as_f64().unwrap(), 1e-8, &cell.label);
        close(cell.se.unwrap(), golden["SE"].as_f64().unwrap(), 1e-8, &cell.label);
    }
    close(fixed.tables[0].sed.mean, case.number("intra_block_sed/mean"), 1e-8, "SED");
}

// Source: Kempton & Fox (1997), p. 62; golden values R 4.2.2. Two of 70 plots are missing.
#[test]
fn wheat_in_rows_and_columns() {
    let case = Case::open("wheat-row-column");
    let experiment = case.experiment(&Layout {
        blocks: unit("replicate").nest(unit("row").cross(unit("column"))),
        units: &[("replicate", &["replicate"]), ("row", &["row"]), ("column", &["column"])],
        factors: &[names("variety")],
        control: None,
        response: "yield",
    });
    let analysis = run(&with_levels_in_order(experiment));
    check_components(&case, &analysis, "mixed_replicate_random", &["replicate", "replicate:row", "replicate:column"]);
    check_tests(&analysis.tests, case.computed("mixed_replicate_random/tests_kenward_roger"), &["variety"]);
    let satterthwaite = analysis.satterthwaite_tests().unwrap();
    check_tests(&satterthwaite, case.computed("mixed_replicate_random/tests_satterthwaite"), &["variety"]);
}

const BLOCKS: &str = "replicate:incomplete_block";

fn county(case: &Case, name: &str) -> Experiment {
    let rows: Vec<HashMap<String, String>> = case.rows.iter().filter(|row| row["county"] == name).cloned().collect();
    let alone = Case { rows, expected: serde_json::Value::Null };
    alone.experiment(&Layout {
        blocks: unit("replicate").nest(unit("block").nest(unit("plot"))),
        units: &[("replicate", &["replicate"]), ("block", &["incomplete_block"])],
        factors: &[names("hybrid")],
        control: None,
        response: "yield",
    })
}

// Source: Besag & Higdon (1999); golden values R 4.2.2. Each county by itself, hybrids fixed and as a sample.
#[test]
fn maize_hybrids_county_by_county() {
    let case = Case::open("maize-hybrids-six-counties");
    let mut compared = 0;
    for golden in case.computed("by_county").as_array().unwrap() {
        let name = golden["county"].as_str().unwrap();
        let mut experiment = county(&case, name);
        let analysis = run(&experiment);
        let variance = |golden: &serde_json::Value, term: &str| {
            let rows = golden["components"].as_array().unwrap();
            rows.iter().find(|row| row["term"] == term).unwrap()["variance"].as_f64().unwrap()
        };
        let sed = golden["sed"]["mean"].as_f64().unwrap();
        compared += usize::from(check_county(&analysis, "block", variance(&golden["mixed"], BLOCKS)));
        if predicted(&analysis, "replicate").variance > 0.0 {
            close(mean_sed(&analysis), sed, 1e-5, name);
        }
        experiment.random_factors = vec!["hybrid".into()];
        let sampled = run(&experiment);
        compared += usize::from(check_county(&sampled, "hybrid", variance(&golden["hybrids_random"], "hybrid")));
    }
    assert_eq!(compared, 10);
}

/// The golden models have replicates fixed; with a replicate variance above zero that is the same for all else, as replicates
/// are whole. With it at zero the random replicates are pooled with the blocks, and the two models differ.
fn check_county(analysis: &Analysis, term: &str, golden: f64) -> bool {
    let is_same = predicted(analysis, "replicate").variance > 0.0;
    if is_same {
        close_or(predicted(analysis, term).variance, golden, 1e-4, 1e-6 * golden.max(1.0), term);
    }
    is_same
}

/// Mean standard error of a difference as fitted, without Kenward and Roger's correction.
fn mean_sed(analysis: &Analysis) -> f64 {
    let entries = analysis.tables[0].cells.len();
    let difference = |a: usize, b: usize| {
        (0..entries).map(|it| f64::from(u8::from(it == a)) - f64::from(u8::from(it == b))).collect::<Vec<_>>()
    };
    let pairs = (0..entries).flat_map(|a| (0..a).map(move |b| (a, b)));
    let errors: Vec<f64> = pairs.map(|(a, b)| analysis.satterthwaite_contrast(&difference(a, b)).unwrap().se).collect();
    errors.iter().sum::<f64>() / errors.len() as f64
}

// Source: as above; counties stand for others, hybrids are compared over all of them.
#[test]
fn maize_hybrids_in_counties_like_these() {
    let case = Case::open("maize-hybrids-six-counties");
    let mut experiment = case.experiment(&Layout {
        blocks: unit("county").nest(unit("replicate").nest(unit("block").nest(unit("plot")))),
        units: &[("county", &["county"]), ("replicate", &["replicate"]), ("block", &["incomplete_block"])],
        factors: &[names("hybrid")],
        control: None,
        response: "yield",
    });
    experiment.environments = vec!["county".into()];
    experiment.scope = Scope::EnvironmentsLikeThese;
    let analysis = run(&experiment);
    let components = ["county", "county:hybrid", "county:replicate", "county:replicate:incomplete_block"];
    check_components(&case, &analysis, "combined_homogeneous", &components);
    let satterthwaite = analysis.satterthwaite_tests().unwrap();
    check_tests(&satterthwaite, case.computed("combined_homogeneous/tests_satterthwaite"), &["hybrid"]);
    let table = &analysis.tables[0];
    for golden in case.computed("combined_means").as_array().unwrap() {
        let cell = table.cells.iter().find(|cell| cell.label == golden["hybrid"]).unwrap();
        close(cell.mean, golden["mean"].as_f64().unwrap(), 1e-5, &cell.label);
    }
}

fn durum(case: &Case) -> Experiment {
    let mut experiment = case.experiment(&Layout {
        blocks: unit("block").nest(unit("plot")),
        units: &[("block", &["block"])],
        factors: &[names("entry")],
        control: None,
        response: "yield",
    });
    experiment.treatments.factors[0].levels.iter_mut().for_each(|level| level.amount = None);
    experiment
}

// Source: Petersen (1994), table 5.7, p. 170; golden values R 4.2.2 (lm, lme4), closed forms beside them. The book prints the
// error mean square of the checks as 91103.
#[test]
fn durum_in_augmented_blocks() {
    let case = Case::open("durum-augmented-blocks");
    let analysis = run(&durum(&case));
    check_components(&case, &analysis, "entries_fixed_blocks_random", &["block"]);
    check_tests(&analysis.tests, case.computed("entries_fixed_blocks_random/tests_kenward_roger"), &["entry"]);
    let fixed = analysis.fixed_units.as_ref().unwrap();
    close(fixed.residual_ms, case.number("residual_ms"), 1e-8, "error of the checks");
    close_or(fixed.residual_ms, 91_103.0, 0.0, 0.5, "error as printed");
    assert_eq!(fixed.residual_df, 10.0);
    let table = &fixed.tables[0];
    let at = |entry: &str| table.cells.iter().position(|cell| cell.label == entry).unwrap();
    for golden in case.computed("adjusted_means").as_array().unwrap() {
        let cell = &table.cells[at(golden["entry"].as_str().unwrap())];
        close(cell.mean, golden["adjusted_mean"].as_f64().unwrap(), 1e-8, &cell.label);
        close(cell.se.unwrap(), golden["se"].as_f64().unwrap(), 1e-8, &cell.label);
    }
    let sed = |a: &str, b: &str| {
        let (a, b) = (at(a).min(at(b)), at(a).max(at(b)));
        table.pairs.iter().find(|pair| (pair.a, pair.b) == (a, b)).unwrap().se
    };
    let block_of = |entry: &str| case.rows.iter().find(|row| row["entry"] == entry).unwrap()["block"].clone();
    let new: Vec<String> =
        case.rows.iter().filter(|row| row["kind"] == "new").map(|row| row["entry"].clone()).collect();
    let apart = new.iter().find(|it| block_of(it) != block_of(&new[0])).unwrap();
    let together = new[1..].iter().find(|it| block_of(it) == block_of(&new[0])).unwrap();
    let closed = |kind: &str| case.number(&format!("sed/closed_forms/{kind}"));
    close(sed("St", "Ci"), closed("two_checks"), 1e-8, "two checks");
    close(sed(&new[0], together), closed("two_new_same_block"), 1e-8, "new, same block");
    close(sed(&new[0], apart), closed("two_new_different_blocks"), 1e-8, "new, different blocks");
    close(sed(&new[0], "St"), closed("new_vs_check"), 1e-8, "new and check");
}

// Source: as above; the new entries as a sample beside three checks. The golden model has blocks fixed, ours has them random;
// the variance of entries is then another estimate, so that only what does not depend on it is compared: see below.
#[test]
fn durum_new_entries_as_a_sample_beside_checks() {
    let case = Case::open("durum-augmented-blocks");
    let fixed = durum(&case);
    let checks = ["St", "Ci", "Wa"];
    let mut entries = fixed.treatments.factors[0].clone();
    entries.levels.retain(|level| !checks.contains(&level.label.as_str()));
    let place = |row: &HashMap<String, String>| {
        let check = checks.iter().position(|check| row["entry"] == *check);
        check.map_or_else(
            || entries.levels.iter().position(|level| level.label == row["entry"]).unwrap(),
            |check| entries.levels.len() + check,
        )
    };
    let treatment: Vec<usize> = case.rows.iter().map(place).collect();
    let controls = checks.iter().map(|&label| Control { label: label.into(), plots_per_replicate: 1 }).collect();
    let treatments = TreatmentStructure { factors: vec![entries], controls };
    let mut experiment = Experiment::new(fixed.blocks, fixed.units, treatments, treatment, fixed.response);
    experiment.random_factors = vec!["entry".into()];
    let analysis = run(&experiment);
    let entries = predicted(&analysis, "entry");
    assert_eq!(entries.rows.len(), 30);
    assert!(entries.rows.iter().all(|row| row.n == 1));
    // controls and the mean of the entries are the fixed means: three degrees of freedom between four
    assert_eq!((analysis.tests.len(), analysis.tests[0].num_df), (1, 3.0));
    assert_eq!(analysis.tables[0].cells.len(), 4);
    assert!(analysis.notices.contains(&Notice::NotOrthogonal));
}
