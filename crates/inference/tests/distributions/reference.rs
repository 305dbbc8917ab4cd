//! Reading the reference values, and the worst miss against them.

use std::collections::BTreeMap;
use std::path::Path;

/// Rows of a file of `tests/reference/distributions`, as text.
pub fn rows(file: &str) -> Vec<Vec<String>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/distributions");
    let path = folder.join(file);
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(path).expect("the values are there");
    reader.records().map(|row| row.expect("a whole row").iter().map(str::to_owned).collect()).collect()
}

/// A number of a row; NaN where it is empty.
pub fn number(text: &str) -> f64 {
    if text.is_empty() { f64::NAN } else { text.parse().unwrap_or_else(|_| panic!("{text} is no number")) }
}

/// The worst miss of each function, with the number of values it was asked for.
#[derive(Default)]
pub struct Worst {
    by_function: BTreeMap<String, (f64, usize, String)>,
}

impl Worst {
    /// Takes note of one value; NaN is the worst of all.
    pub fn note(&mut self, function: &str, miss: f64, what: impl FnOnce() -> String) {
        let entry = self.by_function.entry(function.to_owned()).or_insert((-1.0, 0, String::new()));
        entry.1 += 1;
        if miss.is_nan() || miss > entry.0 {
            entry.0 = if miss.is_nan() { f64::INFINITY } else { miss };
            entry.2 = what();
        }
    }

    /// Prints what `docs/numbers/distributions.md` reports, and fails where a miss is above the tolerance or there are too few
    /// values to mean anything.
    pub fn check(&self, tolerance: f64, fewest: usize) {
        let mut failures = Vec::new();
        for (function, (miss, count, what)) in &self.by_function {
            println!("{function}: {count} values, worst {miss:.1e} at {what}");
            if *miss > tolerance || *count < fewest {
                failures.push(format!("{function}: {count} values, worst {miss:e} at {what}"));
            }
        }
        assert!(!self.by_function.is_empty(), "nothing was compared");
        assert!(failures.is_empty(), "allowed {tolerance:e} with at least {fewest} values:\n{}", failures.join("\n"));
    }
}

/// How far a probability is from `exp(log)`, relative.
pub fn relative(found: f64, expected: f64) -> f64 {
    if expected == 0.0 { found.abs() } else { (found / expected - 1.0).abs() }
}
