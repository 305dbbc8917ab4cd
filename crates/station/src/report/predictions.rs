//! Predictions of random effects that somebody asked about: treatments in places and years, sampled entries. Blocks and other
//! units of the ground are not asked about.

use guardrow_inference::{Analysis, PredictionKind, PredictionTable};
use guardrow_publish::report::{Column, Row, Table};

use super::numbers::{Decimals, four_digits};

/// More rows than this are for a file, not for a reader.
const MOST_ROWS: usize = 60;

/// A table for each random term of treatments whose variance is above zero.
pub(crate) fn tables(analysis: &Analysis, unit: &str, decimals: Decimals) -> Vec<Table> {
    let asked = analysis.predictions.iter().filter(|table| table.kind != PredictionKind::Units && table.variance > 0.0);
    asked.map(|table| of_term(table, unit, decimals)).collect()
}

fn of_term(found: &PredictionTable, unit: &str, decimals: Decimals) -> Table {
    let has_means = found.rows.iter().any(|row| row.mean.is_some());
    let mut columns = vec![Column::left(found.label.clone())];
    if has_means {
        columns.push(Column::right("Predicted mean").with_unit(unit));
    }
    columns.extend([
        Column::right("Effect").with_unit(unit),
        Column::right("SE of prediction").with_unit(unit),
        Column::right("Reliability"),
        Column::right("n"),
    ]);
    let mut table = Table::new(format!("Predictions: {}", found.label), columns);
    for row in found.rows.iter().take(MOST_ROWS) {
        let mut cells = vec![row.label.clone()];
        if has_means {
            cells.push(row.mean.map(|mean| decimals.value(mean)).unwrap_or_default());
        }
        cells.extend([
            decimals.difference(row.effect),
            decimals.finer().value(row.prediction_se),
            row.reliability.map(|share| guardrow_agronomy::rounding::shown(share, 2)).unwrap_or_default(),
            row.n.to_string(),
        ]);
        table.push(Row::plain(cells));
    }
    table.notes = notes(found);
    table
}

fn notes(found: &PredictionTable) -> Vec<String> {
    let mut notes = vec![format!(
        "Best linear unbiased predictions: effects are drawn in towards zero, the more the less is known of them. Variance of the \
         effects {}.",
        four_digits(found.variance)
    )];
    if let (PredictionKind::Sample, Some(share)) = (found.kind, found.heritability) {
        let share = guardrow_agronomy::rounding::shown(share, 2);
        notes.push(format!("Heritability on the scale of this trial: {share}."));
    }
    if found.rows.len() > MOST_ROWS {
        let left = found.rows.len() - MOST_ROWS;
        notes.push(format!("{left} further rows are in the report's numbers (`--json`)."));
    }
    notes
}
