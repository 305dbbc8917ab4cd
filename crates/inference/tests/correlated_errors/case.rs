//! Reads a case's table and golden values.

use guardrow_inference::correlated_errors::CorrelatedAnalysis;
use serde_json::Value;
use std::collections::HashMap;
use std::path::Path;

/// One case's folder in `tests/reference`.
pub struct Case {
    rows: Vec<HashMap<String, String>>,
    pub expected: Value,
}

impl Case {
    pub fn open(name: &str) -> Self {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference").join(name);
        let mut table = csv::Reader::from_path(folder.join("data.csv")).expect("the case has a table");
        let rows = table.deserialize().collect::<Result<_, _>>().expect("every row has every column");
        let expected = std::fs::read_to_string(folder.join("expected.json")).expect("the case has golden values");
        Self { rows, expected: serde_json::from_str(&expected).expect("golden values are JSON") }
    }

    /// Golden values that belong to data of another case.
    pub fn open_golden(name: &str) -> Value {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference").join(name);
        let text = std::fs::read_to_string(folder.join("expected.json")).expect("the golden values are there");
        serde_json::from_str(&text).expect("golden values are JSON")
    }

    pub fn numbers(&self, column: &str) -> Vec<f64> {
        self.rows.iter().map(|row| row[column].parse().expect("a number")).collect()
    }

    /// Numbers of a column with blanks.
    pub fn values(&self, column: &str) -> Vec<Option<f64>> {
        self.rows.iter().map(|row| row[column].trim().parse().ok()).collect()
    }

    /// Labels of a column in alphabetical order, and for each row the index of its own; several columns are taken together.
    pub fn classes(&self, columns: &[&str]) -> (Vec<String>, Vec<usize>) {
        let label = |row: &HashMap<String, String>| {
            columns.iter().map(|&column| row[column].as_str()).collect::<Vec<_>>().join(":")
        };
        let mut labels: Vec<String> = self.rows.iter().map(label).collect();
        labels.sort();
        labels.dedup();
        let index = |row| labels.binary_search(&label(row)).expect("every label is listed");
        let classes = self.rows.iter().map(index).collect();
        (labels, classes)
    }

    pub fn number(&self, path: &str) -> f64 {
        let found = self.expected.pointer(path).and_then(Value::as_f64);
        found.unwrap_or_else(|| panic!("no golden number at {path}"))
    }

    pub fn list(&self, path: &str) -> &[Value] {
        self.expected.pointer(path).and_then(Value::as_array).unwrap_or_else(|| panic!("no golden list at {path}"))
    }
}

pub fn close(actual: f64, expected: f64, relative: f64, what: &str) {
    assert!((actual - expected).abs() <= relative * expected.abs(), "{what}: {actual:.12e} instead of {expected:.12e}");
}

pub fn near(actual: f64, expected: f64, absolute: f64, what: &str) {
    assert!((actual - expected).abs() <= absolute, "{what}: {actual:.12e} instead of {expected:.12e}");
}

/// Smallest, mean and largest standard error of a difference by the model as fitted, without correction.
pub fn check_sed(analysis: &CorrelatedAnalysis, golden: impl Fn(&str) -> f64) {
    let cells = analysis.means().len();
    let mut all = Vec::new();
    for a in 0..cells {
        all.extend((0..a).map(|b| analysis.plain_variance(&difference(cells, a, b)).sqrt()));
    }
    let least = all.iter().copied().fold(f64::INFINITY, f64::min);
    let most = all.iter().copied().fold(0.0, f64::max);
    close(least, golden("min"), 1e-5, "smallest SED");
    close(all.iter().sum::<f64>() / all.len() as f64, golden("mean"), 1e-5, "mean SED");
    close(most, golden("max"), 1e-5, "largest SED");
}

/// Weights of the difference of two of so many means.
pub fn difference(cells: usize, one: usize, other: usize) -> Vec<f64> {
    let mut weights = vec![0.0; cells];
    (weights[one], weights[other]) = (1.0, -1.0);
    weights
}

/// Wald's statistic over its degrees of freedom for all differences, the covariance taken as known.
pub fn wald(analysis: &CorrelatedAnalysis) -> f64 {
    let means = analysis.means();
    let count = means.len() - 1;
    let variance = |weights: &[f64]| analysis.plain_variance(weights);
    let of = |one: usize| difference(count + 1, one + 1, 0);
    let mut rows: Vec<Vec<f64>> = Vec::new();
    for a in 0..count {
        let covariance = |b: usize| {
            let sum: Vec<f64> = of(a).iter().zip(of(b)).map(|(x, y)| x + y).collect();
            0.5 * (variance(&sum) - variance(&of(a)) - variance(&of(b)))
        };
        let mut row: Vec<f64> = (0..count).map(covariance).collect();
        row[a] = variance(&of(a));
        row.push(means[a + 1] - means[0]);
        rows.push(row);
    }
    let differences: Vec<f64> = rows.iter().map(|row| row[count]).collect();
    eliminate(&mut rows);
    differences.iter().zip(&rows).map(|(difference, row)| difference * row[count]).sum::<f64>() / count as f64
}

/// Solves equations with a positive definite matrix; the last column becomes the solution.
fn eliminate(rows: &mut [Vec<f64>]) {
    for pivot in 0..rows.len() {
        let own = rows[pivot].clone();
        for (index, row) in rows.iter_mut().enumerate() {
            let factor = if index == pivot { 1.0 - 1.0 / own[pivot] } else { row[pivot] / own[pivot] };
            row.iter_mut().zip(&own).for_each(|(value, own)| *value -= factor * own);
        }
    }
}
