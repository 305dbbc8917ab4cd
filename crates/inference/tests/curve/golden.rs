//! Reads a case's table and golden values.

use serde_json::Value;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// One case's folder in `tests/reference`.
pub struct Golden {
    pub rows: Vec<HashMap<String, String>>,
    pub expected: Value,
}

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference").join(name)
}

impl Golden {
    pub fn open(name: &str) -> Self {
        Self::open_table(name, "data.csv")
    }

    pub fn open_table(name: &str, file: &str) -> Self {
        let mut table = csv::Reader::from_path(folder(name).join(file)).expect("the case has a table");
        let expected = std::fs::read_to_string(folder(name).join("expected.json")).expect("the case has golden values");
        Self {
            rows: table.deserialize().collect::<Result<_, _>>().expect("every row has every column"),
            expected: serde_json::from_str(&expected).expect("golden values are JSON"),
        }
    }

    pub fn computed(&self, path: &str) -> &Value {
        let found = self.expected.pointer(&format!("/computed/{path}"));
        found.unwrap_or_else(|| panic!("no golden value at computed/{path}"))
    }

    pub fn number(&self, path: &str) -> f64 {
        self.computed(path).as_f64().unwrap_or_else(|| panic!("computed/{path} is not a number"))
    }

    pub fn column(&self, name: &str) -> Vec<Option<f64>> {
        self.rows.iter().map(|row| row[name].trim().parse().ok()).collect()
    }
}

pub fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("golden value '{key}' is no number in {value}"))
}

pub fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().expect("golden numbers").iter().map(|it| it.as_f64().expect("a number")).collect()
}

pub fn close(actual: f64, expected: f64, relative: f64, what: &str) {
    close_or(actual, expected, relative, 0.0, what);
}

pub fn close_or(actual: f64, expected: f64, relative: f64, absolute: f64, what: &str) {
    let allowed = (relative * expected.abs()).max(absolute);
    assert!((actual - expected).abs() <= allowed, "{what}: {actual:.17e} instead of {expected:.17e}");
}
