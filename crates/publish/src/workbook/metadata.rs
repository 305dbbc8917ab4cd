//! The hidden worksheets: what a reader needs to know, and the drop-down lists.

use rust_xlsxwriter::{Format, Worksheet, XlsxError};

use super::text::cell_text;
use super::{FIRST_MEASURE_COLUMN, FORMAT, FORMAT_VERSION, LISTS_SHEET, METADATA_SHEET};
use crate::field_sheet::{EMPTIES, Entry, FieldSheet, SheetMeasure};

/// Column of a measure's value.
pub(super) fn value_column(index: usize) -> u16 {
    FIRST_MEASURE_COLUMN + 2 * index as u16
}

/// Column of the note.
pub(super) fn note_column(sheet: &FieldSheet) -> u16 {
    value_column(sheet.measures.len())
}

/// The words for why there is no value, as the drop-down offers them: zero is a value and a blank is "not yet".
pub(super) fn empty_words() -> Vec<&'static str> {
    EMPTIES.iter().filter(|empty| !empty.mark.is_empty() && empty.mark != "0").map(|empty| empty.word).collect()
}

/// Where the drop-down lists of one event stand: the column on the lists worksheet per measure, none without a scale.
pub(super) type ListColumns = Vec<Option<u16>>;

/// Gives every scale a column on the lists worksheet; column 0 holds the words for why there is no value.
pub(super) fn lists(sheets: &[FieldSheet]) -> Vec<ListColumns> {
    let mut next = 1;
    let mut column_of = |measure: &SheetMeasure| match &measure.entry {
        Entry::Scale { steps } if !steps.is_empty() => {
            next += 1;
            Some(next - 1)
        }
        _ => None,
    };
    sheets.iter().map(|sheet| sheet.measures.iter().map(&mut column_of).collect()).collect()
}

/// Writes the drop-down lists.
pub(super) fn write_lists(to: &mut Worksheet, sheets: &[FieldSheet], lists: &[ListColumns]) -> Result<(), XlsxError> {
    to.set_name(LISTS_SHEET)?.set_hidden(true).protect();
    for (row, word) in (0..).zip(empty_words()) {
        to.write_string(row, 0, word)?;
    }
    for (sheet, columns) in sheets.iter().zip(lists) {
        for (measure, column) in sheet.measures.iter().zip(columns) {
            if let (Entry::Scale { steps }, Some(column)) = (&measure.entry, *column) {
                for (row, step) in (0..).zip(steps) {
                    write_code(to, row, column, &step.code)?;
                }
            }
        }
    }
    Ok(())
}

/// A code that is a number is written as one, since a spreadsheet makes it one when it is chosen.
fn write_code(to: &mut Worksheet, row: u32, column: u16, code: &str) -> Result<(), XlsxError> {
    match code.parse::<f64>() {
        Ok(number) if number.is_finite() => to.write_number(row, column, number)?,
        _ => to.write_string_with_format(row, column, cell_text(code), &Format::new().set_quote_prefix())?,
    };
    Ok(())
}

/// Writes the metadata.
pub(super) fn write(to: &mut Worksheet, sheets: &[FieldSheet], names: &[String]) -> Result<(), XlsxError> {
    to.set_name(METADATA_SHEET)?.set_hidden(true).protect();
    let mut row = 0;
    put(to, &mut row, &[text("format"), text(FORMAT), number(FORMAT_VERSION)])?;
    for (sheet, name) in sheets.iter().zip(names) {
        put(to, &mut row, &[text("trial"), text(&sheet.trial_code), number(sheet.layout_version)])?;
        let plots = sheet.plots.len() as u32;
        let record = [
            text("sheet"),
            text(&sheet.sheet_id),
            text(name),
            text(&sheet.event),
            number(plots),
            number(note_column(sheet)),
        ];
        put(to, &mut row, &record)?;
        for (index, measure) in sheet.measures.iter().enumerate() {
            put(to, &mut row, &measure_record(sheet, index, measure))?;
        }
    }
    Ok(())
}

fn measure_record(sheet: &FieldSheet, index: usize, measure: &SheetMeasure) -> Vec<Cell> {
    let (kind, least, most) = match &measure.entry {
        Entry::Number { least, most, whole } => (if *whole { "whole" } else { "number" }, *least, *most),
        Entry::Scale { .. } => ("scale", None, None),
        Entry::Date => ("date", None, None),
        Entry::Text => ("text", None, None),
    };
    let column = value_column(index);
    let limit = |limit: Option<f64>| limit.filter(|limit| limit.is_finite()).map_or(Cell::Nothing, Cell::Number);
    vec![
        text("measure"),
        text(&sheet.sheet_id),
        text(&measure.key),
        text(&measure.name),
        text(&measure.unit),
        text(kind),
        number(column),
        number(column + 1),
        limit(least),
        limit(most),
    ]
}

enum Cell {
    Text(String),
    Number(f64),
    Nothing,
}

fn text(text: &str) -> Cell {
    Cell::Text(cell_text(text))
}

fn number(number: impl Into<f64>) -> Cell {
    Cell::Number(number.into())
}

fn put(to: &mut Worksheet, row: &mut u32, cells: &[Cell]) -> Result<(), XlsxError> {
    for (column, cell) in (0..).zip(cells) {
        match cell {
            Cell::Text(text) => to.write_string_with_format(*row, column, text, &Format::new().set_quote_prefix())?,
            Cell::Number(number) => to.write_number(*row, column, *number)?,
            Cell::Nothing => to,
        };
    }
    *row += 1;
    Ok(())
}
