//! Tables of plots as the reader leaves them, and the experiment that a trial's rows are.

use std::collections::HashMap;
use std::path::Path;

use anyhow::Context;
use guardrow_design::{BlockStructure, Factor, Level, Scale, TreatmentStructure};
use guardrow_inference::Experiment;

/// Rows of text under named columns.
pub struct FieldTable {
    /// Names of the columns.
    pub columns: Vec<String>,
    /// Rows.
    pub rows: Vec<Vec<String>>,
}

impl FieldTable {
    /// Reads a CSV file whole.
    pub fn read(path: &Path) -> anyhow::Result<Self> {
        let mut reader = csv::Reader::from_path(path).with_context(|| format!("{} cannot be read", path.display()))?;
        let columns = reader.headers()?.iter().map(str::to_owned).collect();
        let rows =
            reader.records().map(|row| Ok(row?.iter().map(str::to_owned).collect())).collect::<anyhow::Result<_>>()?;
        Ok(Self { columns, rows })
    }

    /// Position of a column.
    pub fn column(&self, name: &str) -> anyhow::Result<usize> {
        self.columns.iter().position(|it| it == name).with_context(|| format!("the table has no column '{name}'"))
    }

    /// Groups of rows with the same text in the given columns, in the order in which they are met.
    pub fn groups(&self, columns: &[usize]) -> Vec<(String, Vec<usize>)> {
        let mut groups: Vec<(String, Vec<usize>)> = Vec::new();
        let mut known: HashMap<String, usize> = HashMap::new();
        for (index, row) in self.rows.iter().enumerate() {
            let key = columns.iter().map(|&column| row[column].as_str()).collect::<Vec<_>>().join(" ");
            let group = *known.entry(key.clone()).or_insert_with(|| {
                groups.push((key, Vec::new()));
                groups.len() - 1
            });
            groups[group].1.push(index);
        }
        groups
    }
}

/// Labels numbered in the order in which they are met.
struct Numbered<'a> {
    labels: Vec<&'a str>,
    of_row: Vec<usize>,
}

fn numbered<'a>(table: &'a FieldTable, rows: &[usize], column: usize) -> Numbered<'a> {
    let (mut labels, mut known): (Vec<&str>, HashMap<&str, usize>) = (Vec::new(), HashMap::new());
    let number = |&row: &usize| {
        let label = table.rows[row][column].as_str();
        *known.entry(label).or_insert_with(|| {
            labels.push(label);
            labels.len() - 1
        })
    };
    let of_row = rows.iter().map(number).collect();
    Numbered { labels, of_row }
}

/// The experiment of some rows: units and factors by column, the response in column `y`.
pub fn experiment(
    table: &FieldTable,
    rows: &[usize],
    blocks: BlockStructure,
    units: &[(&str, &str)],
    factors: &[&str],
) -> anyhow::Result<Experiment> {
    let mut columns = Vec::new();
    for (unit, column) in units {
        columns.push(((*unit).to_owned(), numbered(table, rows, table.column(column)?).of_row));
    }
    let (mut listed, mut treatment) = (Vec::new(), vec![0; rows.len()]);
    for factor in factors {
        let found = numbered(table, rows, table.column(factor)?);
        let count = found.labels.len();
        treatment.iter_mut().zip(&found.of_row).for_each(|(index, level)| *index = *index * count + level);
        let levels = found.labels.iter().map(|label| Level { label: (*label).to_owned(), amount: None }).collect();
        listed.push(Factor { name: (*factor).to_owned(), scale: Scale::Qualitative, levels });
    }
    let value = table.column("y")?;
    let response = rows.iter().map(|&row| table.rows[row][value].parse().ok()).collect();
    let treatments = TreatmentStructure { factors: listed, controls: Vec::new() };
    Ok(Experiment::new(blocks, columns, treatments, treatment, response))
}
