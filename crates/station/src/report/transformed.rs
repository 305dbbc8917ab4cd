//! Means after a transformation, transformed back.

use guardrow_inference::{BackTable, TransformedAnalysis};
use guardrow_publish::report::{Column, Notice, NoticeLevel, Row, Table};

use super::numbers::{Decimals, df};
use crate::analysed::Analysed;

/// One table for each of the analysis, those of combinations first; none where no transformation is planned.
pub(crate) fn means(measure: &Analysed, unit: &str, decimals: Decimals) -> Vec<Table> {
    let Some(Ok(transformed)) = &measure.transformed else { return Vec::new() };
    let mut tables: Vec<&BackTable> = transformed.back.iter().collect();
    tables.sort_by_key(|table| std::cmp::Reverse(table.term.len()));
    tables.into_iter().map(|table| one(table, transformed, unit, decimals)).collect()
}

fn one(back: &BackTable, transformed: &TransformedAnalysis, unit: &str, decimals: Decimals) -> Table {
    let words = transformed.transform.words();
    let interval = format!("{} % interval", df(100.0 * (1.0 - transformed.analysis.level)));
    let mut table = Table::new(
        format!("Back from the {words}: {}", back.label),
        vec![
            Column::left(&back.label),
            Column::right("Typical plot").with_unit(unit),
            Column::right(&interval).with_unit(unit),
        ],
    );
    for cell in &back.cells {
        let interval = cell.lower.zip(cell.upper).map(|(low, high)| decimals.interval(low, high)).unwrap_or_default();
        table.push(Row::plain([cell.label.clone(), decimals.value(cell.mean), interval]));
    }
    table.notes.push(
        "Means of the transformed values, transformed back: what a typical plot gives, not the average of the plots."
            .to_owned(),
    );
    table
}

/// That the transformation could not be made, and why.
pub(crate) fn why_not(measure: &Analysed) -> Option<Notice> {
    let Some(Err(error)) = &measure.transformed else { return None };
    let text = format!("There is no analysis after the transformation: {}", measure.words(error));
    Some(Notice { level: NoticeLevel::Warning, text })
}
