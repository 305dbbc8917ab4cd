//! Reads a table of plots and makes models of its columns.

use guardrow_inference::generalised::{CountSpread, FixedColumn, GeneralisedModel, Grouping, Observed, ProportionLink};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// A table with a heading.
pub struct Table {
    heading: Vec<String>,
    rows: Vec<Vec<String>>,
}

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference").join(name)
}

/// The golden values of a folder.
pub fn golden(name: &str) -> Value {
    golden_file(name, "expected.json")
}

/// Golden values in a file of their own.
pub fn golden_file(name: &str, file: &str) -> Value {
    let text = std::fs::read_to_string(folder(name).join(file)).expect("the folder has golden values");
    serde_json::from_str(&text).expect("golden values are JSON")
}

impl Table {
    pub fn open(name: &str, file: &str) -> Self {
        let mut reader = csv::Reader::from_path(folder(name).join(file)).expect("the folder has this table");
        let heading = reader.headers().unwrap().iter().map(str::to_owned).collect();
        let rows = reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect();
        Self { heading, rows }
    }

    /// Adds a column with the same text in every row.
    pub fn add(&mut self, name: &str, text: &str) {
        self.heading.push(name.to_owned());
        self.rows.iter_mut().for_each(|row| row.push(text.to_owned()));
    }

    /// Adds a column with a text of its own in every row.
    pub fn number_rows(&mut self, name: &str) {
        self.heading.push(name.to_owned());
        self.rows.iter_mut().enumerate().for_each(|(number, row)| row.push(number.to_string()));
    }

    /// One row for each combination of some columns, with the sum of another.
    pub fn totals(&self, names: &[&str], sum: &str) -> Self {
        let (labels, index) = self.labels(names);
        let mut totals = vec![0.0; labels.len()];
        index.iter().zip(self.numbers(sum)).for_each(|(&row, value)| totals[row] += value);
        let row = |(label, total): (&String, &f64)| {
            label.split(" / ").map(str::to_owned).chain([total.to_string()]).collect()
        };
        let heading = names.iter().chain([&sum]).map(|&name| name.to_owned()).collect();
        Self { heading, rows: labels.iter().zip(&totals).map(row).collect() }
    }

    pub fn len(&self) -> usize {
        self.rows.len()
    }

    pub fn column(&self, name: &str) -> Vec<&str> {
        let at = self.heading.iter().position(|it| it == name).unwrap_or_else(|| panic!("no column {name}"));
        self.rows.iter().map(|row| row[at].as_str()).collect()
    }

    pub fn numbers(&self, name: &str) -> Vec<f64> {
        self.column(name).iter().map(|text| text.parse().expect("a number")).collect()
    }

    /// Labels made of several columns, sorted, and the index of every row's.
    pub fn labels(&self, names: &[&str]) -> (Vec<String>, Vec<usize>) {
        let columns: Vec<Vec<&str>> = names.iter().map(|name| self.column(name)).collect();
        let joined = |row: usize| columns.iter().map(|column| column[row]).collect::<Vec<_>>().join(" / ");
        let all: Vec<String> = (0..self.len()).map(joined).collect();
        let mut labels = all.clone();
        labels.sort();
        labels.dedup();
        let index = all.iter().map(|label| labels.binary_search(label).unwrap()).collect();
        (labels, index)
    }

    pub fn grouping(&self, names: &[&str]) -> Grouping {
        let (labels, class) = self.labels(names);
        Grouping { name: names.join(" x "), classes: labels.len(), class }
    }

    /// Indicators of all labels of a column but the first, for units or factors taken as fixed.
    pub fn indicators(&self, name: &str) -> Vec<FixedColumn> {
        let (labels, index) = self.labels(&[name]);
        let of = |at: usize| index.iter().map(|&it| f64::from(u8::from(it == at))).collect();
        (1..labels.len()).map(|at| FixedColumn { name: format!("{name}{}", labels[at]), values: of(at) }).collect()
    }

    fn model(&self, observed: Observed, treatment: &[&str], groupings: &[&[&str]]) -> GeneralisedModel {
        let (treatments, treatment) = self.labels(treatment);
        let groupings = groupings.iter().map(|names| self.grouping(names)).collect();
        GeneralisedModel { observed, treatments, treatment, columns: Vec::new(), offset: None, groupings }
    }

    pub fn proportions(
        &self,
        (successes, trials): (&str, &str),
        link: ProportionLink,
        treatment: &[&str],
        groupings: &[&[&str]],
    ) -> GeneralisedModel {
        let (successes, trials) = (self.numbers(successes), self.numbers(trials));
        self.model(Observed::Proportions { successes, trials, link }, treatment, groupings)
    }

    pub fn counts(
        &self,
        counts: &str,
        spread: CountSpread,
        treatment: &[&str],
        groupings: &[&[&str]],
    ) -> GeneralisedModel {
        self.model(Observed::Counts { counts: self.numbers(counts), spread }, treatment, groupings)
    }
}

pub fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("golden value '{key}' is no number in {value}"))
}

pub fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().expect("golden numbers").iter().map(|it| it.as_f64().expect("a number")).collect()
}

pub fn close(ours: f64, golden: f64, allowed: f64, what: &str) {
    assert!((ours - golden).abs() <= allowed, "{what}: {ours:.17e} instead of {golden:.17e}");
}
