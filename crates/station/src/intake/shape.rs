//! Telling what the columns of a table mean: plot, treatment, day, and one measure each, or one row per value.

use super::plot_note::FoundNote;
use super::table::{Cell, Table, not_understood};
use crate::{Measure, StationError};

/// One value with where it stands, before it is checked against the trial.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FoundValue {
    /// Line in the file or sheet.
    pub line: usize,
    /// Heading of the column, for messages.
    pub column: String,
    /// Plot as written.
    pub plot: Cell,
    /// Treatment as written, when the table names it.
    pub treatment: Option<String>,
    /// Day of the observation as written.
    pub day: Option<Cell>,
    /// Index into the trial's measures, or the name that fits none.
    pub measure: Result<usize, String>,
    /// Unit as written beside the value or in the heading.
    pub unit: Option<String>,
    /// The value.
    pub value: Cell,
}

/// Headings by which a column is known, letter case aside.
const PLOT: &[&str] = &["plot", "plot number", "plot no", "plot_number"];
const TREATMENT: &[&str] = &["treatment"];
const DAY: &[&str] = &["observed on", "observed_on", "date", "day"];
const MEASURE: &[&str] = &["measure", "variable", "trait"];
const VALUE: &[&str] = &["value"];
const UNIT: &[&str] = &["unit"];

/// What a table holds, and which of its columns nobody knows.
pub(crate) struct Shape {
    /// All values that are not blank.
    pub values: Vec<FoundValue>,
    /// How the table was read, for people.
    pub read_as: String,
    /// Headings that were left aside.
    pub left_aside: Vec<String>,
    /// Notes on plots.
    pub notes: Vec<FoundNote>,
}

/// Reads a table with one row per plot or one row per value.
///
/// # Errors
/// When no column holds the plot number, or none a measure of the trial.
pub(crate) fn shape(file: &str, table: &Table, measures: &[Measure]) -> Result<Shape, StationError> {
    let plot = find(table, PLOT).ok_or_else(|| {
        not_understood(
            file,
            format!("no column is called “plot”; the columns are {}", quoted(&table.header)),
            "name the column with the plot numbers “plot”",
        )
    })?;
    match (find(table, MEASURE), find(table, VALUE)) {
        (Some(measure), Some(value)) => Ok(long(table, measures, plot, measure, value)),
        _ => wide(file, table, measures, plot),
    }
}

fn long(table: &Table, measures: &[Measure], plot: usize, measure: usize, value: usize) -> Shape {
    let (treatment, day, unit) = (find(table, TREATMENT), find(table, DAY), find(table, UNIT));
    let values = table
        .rows
        .iter()
        .filter(|(_, cells)| !cells[value].is_empty())
        .map(|(line, cells)| FoundValue {
            line: *line,
            column: table.header[value].clone(),
            plot: cells[plot].clone(),
            treatment: text_at(cells, treatment),
            day: day.map(|at| cells[at].clone()).filter(|cell| !cell.is_empty()),
            measure: measure_named(&cells[measure].text(), measures).ok_or_else(|| cells[measure].text()),
            unit: text_at(cells, unit),
            value: cells[value].clone(),
        })
        .collect();
    Shape {
        values,
        read_as: format!("{}, one row per value", table.read_as),
        left_aside: Vec::new(),
        notes: Vec::new(),
    }
}

fn wide(file: &str, table: &Table, measures: &[Measure], plot: usize) -> Result<Shape, StationError> {
    let (treatment, day) = (find(table, TREATMENT), find(table, DAY));
    let mut columns = Vec::new();
    let mut left_aside = Vec::new();
    for (at, heading) in table.header.iter().enumerate() {
        if at == plot || Some(at) == treatment || Some(at) == day || heading.is_empty() {
            continue;
        }
        let (name, unit) = split_heading(heading);
        match measure_named(name, measures) {
            Some(measure) => columns.push((at, measure, unit)),
            None => left_aside.push(heading.clone()),
        }
    }
    if columns.is_empty() {
        let known: Vec<String> = measures.iter().map(|measure| measure.key.clone()).collect();
        return Err(not_understood(
            file,
            format!("no column is a measure of this trial; the columns are {}", quoted(&table.header)),
            format!("name the columns by the trial's measures: {}", quoted(&known)),
        ));
    }
    let mut values = Vec::new();
    for (line, cells) in &table.rows {
        for &(at, measure, unit) in columns.iter().filter(|(at, _, _)| !cells[*at].is_empty()) {
            values.push(FoundValue {
                line: *line,
                column: table.header[at].clone(),
                plot: cells[plot].clone(),
                treatment: text_at(cells, treatment),
                day: day.map(|at| cells[at].clone()).filter(|cell| !cell.is_empty()),
                measure: Ok(measure),
                unit: unit.map(str::to_owned),
                value: cells[at].clone(),
            });
        }
    }
    Ok(Shape { values, read_as: format!("{}, one row per plot", table.read_as), left_aside, notes: Vec::new() })
}

fn find(table: &Table, names: &[&str]) -> Option<usize> {
    names.iter().find_map(|name| table.column(name))
}

fn text_at(cells: &[Cell], at: Option<usize>) -> Option<String> {
    at.map(|at| cells[at].text()).filter(|text| !text.is_empty())
}

/// A measure by its key or its name, letter case aside.
pub(crate) fn measure_named(name: &str, measures: &[Measure]) -> Option<usize> {
    let name = name.trim();
    measures
        .iter()
        .position(|measure| measure.key.eq_ignore_ascii_case(name))
        .or_else(|| measures.iter().position(|measure| measure.name.eq_ignore_ascii_case(name)))
}

/// Splits `stand (plants/m2)` or `stand [plants/m2]` into name and unit.
fn split_heading(heading: &str) -> (&str, Option<&str>) {
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let Some(rest) = heading.strip_suffix(close)
            && let Some((name, unit)) = rest.rsplit_once(open)
        {
            return (name.trim(), Some(unit.trim()));
        }
    }
    (heading, None)
}

fn quoted(names: &[String]) -> String {
    let names: Vec<String> = names.iter().filter(|name| !name.is_empty()).map(|name| format!("“{name}”")).collect();
    names.join(", ")
}
