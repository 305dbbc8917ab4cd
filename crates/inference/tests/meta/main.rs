//! Joining trials by their summaries.

mod bad_input;
mod by_r;
mod coverage;
mod properties;
mod white_mould;

use guardrow_inference::meta::TrialSummary;
use serde_json::Value;
use std::path::Path;

/// The golden values of a folder.
fn golden(folder: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference").join(folder).join("expected.json");
    serde_json::from_str(&std::fs::read_to_string(path).expect("golden values are there")).expect("JSON")
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("no number {key} in {value}"))
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().expect("a list").iter().map(|it| it.as_f64().expect("a number")).collect()
}

/// - `allowed`: absolute
fn close(found: f64, expected: f64, allowed: f64, what: &str) {
    assert!((found - expected).abs() <= allowed, "{what}: {found} for {expected}, allowed {allowed:e}");
}

/// Trials called 1, 2, ...
fn trials(estimates: &[f64], errors: &[f64], df: impl Fn(usize) -> Option<f64>) -> Vec<TrialSummary> {
    let trial = |(index, (&estimate, &se)): (usize, (&f64, &f64))| TrialSummary {
        name: (index + 1).to_string(),
        estimate,
        se,
        df: df(index),
    };
    estimates.iter().zip(errors).enumerate().map(trial).collect()
}
