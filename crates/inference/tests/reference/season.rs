//! 500 analyses of a season: 25 invented trials in five arrangements, 20 measures each, up to three plots missing in every one.
//!
//! Golden values: lme4 (tolerances tightened) with pbkrtest, see PROVENANCE.md. In 91 of the analyses a variance is at zero.

use crate::case::{Case, Layout, names};
use crate::compare::{close, close_or};
use guardrow_design::BlockStructure;
use guardrow_inference::{Analysis, Method, Options};
use std::collections::HashMap;

type Row = HashMap<String, String>;

/// The golden values have nine digits and come from an iterative fit; ours is asked for a hundredth of the usual tolerance.
const F: f64 = 1e-5;
const DF: f64 = 1e-6;

fn trial(rows: &[Row], name: &str, measure: &str) -> Case {
    let chosen = rows.iter().filter(|row| row["trial"] == name && !row[measure].is_empty());
    Case { rows: chosen.cloned().collect(), expected: serde_json::Value::Null }
}

fn analyse(case: &Case, measure: &'static str) -> Analysis {
    let unit = BlockStructure::unit;
    let block_and = |inner: BlockStructure| unit("block").nest(inner);
    let (entry, factorial) = ([names("entry")], [names("a"), names("b")]);
    let blocks = ("block", &["block"][..]);
    let layout = |blocks, units, factors| Layout { blocks, units, factors, control: None, response: measure };
    let options = Options { method: Method::Mixed, ..Options::default() };
    let run = |layout: Layout| case.analyse_with(&layout, &options);
    match case.rows[0]["arrangement"].as_str() {
        "rcb" => run(layout(block_and(unit("plot")), &[blocks], &entry)),
        "factorial" => run(layout(block_and(unit("plot")), &[blocks], &factorial)),
        "split" => {
            run(layout(block_and(unit("main plot").nest(unit("plot"))), &[blocks, ("main plot", &["a"])], &factorial))
        }
        "strip" => {
            let strips = unit("strip along").cross(unit("strip across"));
            let units = [blocks, ("strip along", &["a"][..]), ("strip across", &["b"])];
            run(layout(block_and(strips), &units, &factorial))
        }
        "alpha" => {
            let structure = unit("replicate").nest(unit("block").nest(unit("plot")));
            run(layout(structure, &[("replicate", &["rep"]), ("block", &["incomplete_block"])], &entry))
        }
        other => panic!("no arrangement {other}"),
    }
}

/// Logarithm of the determinant that turns cell means into contrasts summing to zero, with which the golden log-likelihoods
/// were made: `k` for one factor of `k` levels, `a^b b^a` for two.
fn log_change_of_coding(case: &Case) -> f64 {
    let levels = |column: &str| {
        let mut found: Vec<&str> = case.rows.iter().map(|row| row[column].as_str()).collect();
        found.sort_unstable();
        found.dedup();
        found.len() as f64
    };
    if case.rows[0]["entry"].is_empty() {
        let (a, b) = (levels("a"), levels("b"));
        b * a.ln() + a * b.ln()
    } else {
        levels("entry").ln()
    }
}

#[test]
fn every_analysis_of_a_season() {
    let rows = Case::table("season-of-25-trials", "data.csv");
    let golden = Case::table("season-of-25-trials", "expected.csv");
    let mut seen = (0, 0);
    for measure in 1..=20 {
        let measure: &'static str = Box::leak(format!("m{measure:02}").into_boxed_str());
        for name in (1..=25).map(|trial| format!("T{trial:02}")) {
            let case = trial(&rows, &name, measure);
            let analysis = analyse(&case, measure);
            let change = log_change_of_coding(&case);
            let chosen: Vec<&Row> =
                golden.iter().filter(|row| row["trial"] == name && row["measure"] == measure).collect();
            assert!(!chosen.is_empty());
            chosen.iter().for_each(|golden| check(&analysis, golden, change));
            seen = (seen.0 + 1, seen.1 + usize::from(analysis.mixed.unwrap().evidence.singular));
        }
    }
    assert_eq!(seen, (500, 91));
}

fn check(analysis: &Analysis, golden: &Row, change_of_coding: f64) {
    let what = format!("{} {} {}", golden["trial"], golden["measure"], golden["term"]);
    let number = |key: &str| golden[key].parse::<f64>().expect("a golden number");
    let test =
        analysis.tests.iter().find(|test| test.label == golden["term"]).unwrap_or_else(|| panic!("no test: {what}"));
    assert_eq!(test.num_df, number("num_df"), "{what}");
    close(test.den_df, number("den_df"), DF, &what);
    close(test.f, number("f"), F, &what);
    close_or(test.p, number("p"), F, 1e-7, &what);
    let mixed = analysis.mixed.as_ref().unwrap();
    close_or(mixed.reml_log_likelihood - change_of_coding, number("reml_log_likelihood"), 0.0, 1e-8, &what);
    assert_eq!(mixed.evidence.singular, golden["singular"] == "1", "{what}");
}
