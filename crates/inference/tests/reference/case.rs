//! Reads a case's table and states how it was laid out.

use guardrow_design::{BlockStructure, Control, Factor, Level, Scale, TreatmentStructure};
use guardrow_inference::{Analysis, Experiment, Options, analyse};
use serde_json::Value;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// One case's folder.
pub struct Case {
    pub rows: Vec<HashMap<String, String>>,
    pub expected: Value,
}

/// A factor as a column of the table.
pub struct FactorColumn {
    column: &'static str,
    unit: Option<&'static str>,
}

/// A qualitative factor.
pub fn names(column: &'static str) -> FactorColumn {
    FactorColumn { column, unit: None }
}

/// A quantitative factor.
pub fn amounts(column: &'static str, unit: &'static str) -> FactorColumn {
    FactorColumn { column, unit: Some(unit) }
}

/// How a case was laid out.
pub struct Layout<'a> {
    pub blocks: BlockStructure,
    /// Each unit with the columns that together label it.
    pub units: &'a [(&'static str, &'a [&'static str])],
    pub factors: &'a [FactorColumn],
    /// Column and value that mark a control outside the factorial.
    pub control: Option<(&'static str, &'static str)>,
    pub response: &'static str,
}

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference").join(name)
}

impl Case {
    pub fn open(name: &str) -> Self {
        let rows = Self::table(name, "data.csv");
        let expected = std::fs::read_to_string(folder(name).join("expected.json")).expect("the case has golden values");
        Self { rows, expected: serde_json::from_str(&expected).expect("golden values are JSON") }
    }

    /// Golden values that belong to data of another case.
    pub fn open_golden(name: &str) -> Value {
        let text = std::fs::read_to_string(folder(name).join("expected.json")).expect("the golden values are there");
        serde_json::from_str(&text).expect("golden values are JSON")
    }

    /// A table of a case's folder.
    pub fn table(name: &str, file: &str) -> Vec<HashMap<String, String>> {
        let mut table = csv::Reader::from_path(folder(name).join(file)).expect("the case has a table");
        table.deserialize().collect::<Result<_, _>>().expect("every row has every column")
    }

    pub fn computed(&self, path: &str) -> &Value {
        let found = self.expected.pointer(&format!("/computed/{path}"));
        found.unwrap_or_else(|| panic!("no golden value at computed/{path}"))
    }

    pub fn number(&self, path: &str) -> f64 {
        self.computed(path).as_f64().unwrap_or_else(|| panic!("computed/{path} is not a number"))
    }

    pub fn analyse(&self, layout: &Layout) -> Analysis {
        self.analyse_with(layout, &Options::default())
    }

    pub fn analyse_with(&self, layout: &Layout, options: &Options) -> Analysis {
        analyse(&self.experiment(layout), options).expect("the case can be analysed")
    }

    pub fn experiment(&self, layout: &Layout) -> Experiment {
        let is_control =
            |row: &HashMap<String, String>| layout.control.is_some_and(|(column, value)| row[column] == value);
        let factorial: Vec<&HashMap<String, String>> = self.rows.iter().filter(|row| !is_control(row)).collect();
        let factors: Vec<Factor> = layout.factors.iter().map(|it| factor(it, &factorial)).collect();
        let controls =
            layout.control.iter().map(|(_, label)| Control { label: (*label).into(), plots_per_replicate: 1 });
        let treatments = TreatmentStructure { factors, controls: controls.collect() };
        let treatment = |row: &HashMap<String, String>| {
            let combinations = treatments.factors.iter().map(|it| it.levels.len()).product();
            if is_control(row) { combinations } else { combination(row, layout, &treatments.factors) }
        };
        let units = layout.units.iter().map(|(unit, columns)| ((*unit).into(), self.numbered(columns))).collect();
        let treatment = self.rows.iter().map(treatment).collect();
        let response = self.rows.iter().map(|row| row[layout.response].trim().parse().ok()).collect();
        Experiment::new(layout.blocks.clone(), units, treatments, treatment, response)
    }

    fn numbered(&self, columns: &[&str]) -> Vec<usize> {
        let mut seen: Vec<Vec<&str>> = Vec::new();
        let number =
            |row: &'_ HashMap<String, String>| -> Vec<String> { columns.iter().map(|&it| row[it].clone()).collect() };
        let labels: Vec<Vec<String>> = self.rows.iter().map(number).collect();
        let mut numbers = Vec::new();
        for label in &labels {
            let label: Vec<&str> = label.iter().map(String::as_str).collect();
            let position = seen.iter().position(|it| *it == label);
            numbers.push(position.unwrap_or_else(|| {
                seen.push(label);
                seen.len() - 1
            }));
        }
        numbers
    }
}

fn factor(column: &FactorColumn, rows: &[&HashMap<String, String>]) -> Factor {
    let mut labels: Vec<&String> = Vec::new();
    for row in rows {
        if !labels.contains(&&row[column.column]) {
            labels.push(&row[column.column]);
        }
    }
    let amount = |label: &str| column.unit.map(|_| label.parse().expect("an amount is a number"));
    let scale = column.unit.map_or(Scale::Qualitative, |unit| Scale::Quantitative { unit: unit.into() });
    let levels = labels.into_iter().map(|label| Level { label: label.clone(), amount: amount(label) }).collect();
    Factor { name: column.column.into(), scale, levels }
}

fn combination(row: &HashMap<String, String>, layout: &Layout, factors: &[Factor]) -> usize {
    layout.factors.iter().zip(factors).fold(0, |index, (column, factor)| {
        let level = factor.levels.iter().position(|level| level.label == row[column.column]);
        index * factor.levels.len() + level.expect("levels were read from these rows")
    })
}

/// The same experiment with the levels of its first factor in alphabetical order. Satterthwaite's degrees of freedom for several
/// comparisons depend on that order, and some golden models have it.
pub fn with_levels_in_order(mut experiment: Experiment) -> Experiment {
    let levels = experiment.treatments.factors[0].levels.clone();
    let mut order: Vec<usize> = (0..levels.len()).collect();
    order.sort_by(|&a, &b| levels[a].label.cmp(&levels[b].label));
    let rank = |level: &usize| order.iter().position(|it| it == level).expect("every level has a place");
    experiment.treatment = experiment.treatment.iter().map(rank).collect();
    experiment.treatments.factors[0].levels = order.iter().map(|&it| levels[it].clone()).collect();
    experiment
}

pub fn block_and_plot() -> BlockStructure {
    BlockStructure::unit("block").nest(BlockStructure::unit("plot"))
}

pub fn split_plot() -> BlockStructure {
    let inner = BlockStructure::unit("main plot").nest(BlockStructure::unit("plot"));
    BlockStructure::unit("block").nest(inner)
}
