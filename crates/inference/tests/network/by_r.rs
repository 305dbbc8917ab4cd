//! Networks fitted by lme4 with its optimiser run to its end; see `tests/reference/networks-of-trials`.
//!
//! lme4's search stops where its criterion changes by rounding only, which leaves variances right to some 1e-5; ours must lie at
//! least as high.

use guardrow_inference::{Network, NetworkGrouping, NetworkOptions, fit_network};
use serde_json::Value;
use std::collections::HashMap;
use std::path::PathBuf;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference")
}

/// A table by columns; rows without a yield are left out.
struct Table {
    columns: HashMap<String, Vec<String>>,
}

impl Table {
    fn read(path: &str) -> Self {
        let mut reader = csv::Reader::from_path(folder().join(path)).expect("the table is committed");
        let names: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
        let mut columns: HashMap<String, Vec<String>> = names.iter().map(|name| (name.clone(), Vec::new())).collect();
        for row in reader.records().map(|row| row.expect("the table is sound")) {
            let yields = names.iter().position(|name| name == "yield").expect("there is a yield");
            if !row[yields].is_empty() {
                names.iter().zip(&row).for_each(|(name, cell)| columns.get_mut(name).unwrap().push(cell.to_owned()));
            }
        }
        Self { columns }
    }

    fn numbers(&self, column: &str) -> Vec<f64> {
        self.columns[column].iter().map(|cell| cell.parse().expect("a number")).collect()
    }

    /// A grouping by one column or several joined by colons, and its labels as R writes them.
    fn grouping(&self, columns: &str) -> (NetworkGrouping, Vec<String>) {
        let parts: Vec<&Vec<String>> = columns.split(':').map(|name| &self.columns[name]).collect();
        let label = |row: usize| parts.iter().map(|it| it[row].as_str()).collect::<Vec<_>>().join(":");
        let all: Vec<String> = (0..parts[0].len()).map(label).collect();
        let mut labels = all.clone();
        labels.sort();
        labels.dedup();
        let class: Vec<usize> = all.iter().map(|it| labels.binary_search(it).unwrap()).collect();
        (NetworkGrouping::new(columns, &class, labels.len()), labels)
    }
}

fn near(found: f64, expected: &Value, tolerance: f64, what: &str) {
    let expected = expected.as_f64().unwrap_or_else(|| panic!("{what} is a number"));
    assert!((found - expected).abs() <= tolerance, "{what}: {found} instead of {expected}");
}

fn check(case: &str, table: &str, fixed: &str, random: &[&str], covariate: Option<&str>) {
    let text = std::fs::read_to_string(folder().join("networks-of-trials/expected.json")).expect("they are committed");
    let expected: &Value = &serde_json::from_str::<Value>(&text).expect("it is JSON")[case];
    let table = Table::read(table);
    let (compared, labels) = table.grouping(fixed);
    assert_eq!(expected["classes"], serde_json::json!(labels));
    let (groupings, names): (Vec<_>, Vec<_>) = random.iter().map(|it| table.grouping(it)).unzip();
    let mut network = Network::new(table.numbers("yield"), compared, groupings);
    network.covariates = covariate.map(|name| (name.to_owned(), table.numbers(name))).into_iter().collect();
    let fit = fit_network(&network, &NetworkOptions::default()).expect("R fits it too");
    let above = fit.reml_log_likelihood - expected["log_likelihood"].as_f64().unwrap();
    assert!((-1e-8..1e-5).contains(&above), "{case}: log-likelihood {above:e} above R's");
    let residual = fit.residual[0].as_ref().unwrap().variance;
    for component in &fit.components {
        let tolerance = 1e-4 * component.variance.max(residual * 0.01);
        near(component.variance, &expected["variances"][&component.name], tolerance, &component.name);
    }
    near(residual, &expected["variances"]["Residual"], 1e-4 * residual, "residual variance");
    let errors: Vec<f64> = fit.means.iter().map(|it| it.unwrap().se).collect();
    let largest = errors.iter().fold(0.0, |largest: f64, it| largest.max(*it));
    for (class, mean) in fit.means.iter().enumerate() {
        near(mean.unwrap().mean, &expected["means"][class], 1e-5 * largest, "mean");
        near(mean.unwrap().se, &expected["se"][class], 1e-4 * largest, "error of a mean");
    }
    let last = labels.len() - 1;
    for (name, pair) in [("first_second", (0, 1)), ("first_last", (0, last)), ("second_last", (1, last))] {
        let found = fit.difference_se(pair.0, pair.1).unwrap();
        near(found, &expected["difference_se"][name], 1e-4 * found, name);
    }
    for slope in &fit.slopes {
        near(slope.slope, &expected["slope"]["slope"], 1e-5 * slope.se, "slope");
        near(slope.se, &expected["slope"]["se"], 1e-5 * slope.se, "error of the slope");
    }
    for (prediction, names) in fit.predictions.iter().zip(&names) {
        for (effect, name) in prediction.effects.iter().zip(names) {
            near(*effect, &expected["effects"][&prediction.name][name], 1e-4 * largest, name);
        }
    }
}

const ENTRIES: [&str; 7] =
    ["site", "year", "site:year", "site:year:block", "entry:site", "entry:year", "entry:site:year"];

#[test]
fn an_invented_network_with_lost_plots_sites_and_entries() {
    check("invented", "networks-of-trials/invented.csv", "entry", &ENTRIES, None);
}

#[test]
fn the_same_adjusted_for_its_stands() {
    check("invented_with_stand", "networks-of-trials/invented.csv", "entry", &ENTRIES, Some("stand"));
}

#[test]
fn maize_hybrids_in_incomplete_blocks_in_six_counties() {
    let random = ["county", "county:replicate", "county:replicate:incomplete_block", "hybrid:county"];
    check("maize", "maize-hybrids-six-counties/data.csv", "hybrid", &random, None);
}

#[test]
fn varieties_at_three_sites_in_two_years() {
    let random = ["site", "year", "site:year", "site:year:block", "variety:site", "variety:year", "variety:site:year"];
    check("varieties", "varieties-sites-years/data.csv", "variety", &random, None);
}
