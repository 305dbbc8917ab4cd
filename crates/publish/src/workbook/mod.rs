//! Field sheets as a spreadsheet: one worksheet per event, in walking order, locked but for the cells to fill in.
//!
//! # Cell layout, for reading back
//! Worksheets named by [`METADATA_SHEET`] and [`LISTS_SHEET`] are hidden; every other worksheet is one event. Rows and
//! columns below are spreadsheet addresses; the constants count from 0.
//!
//! An event's worksheet:
//!
//! | cells | content |
//! |---|---|
//! | A1, A2, A3 | trial and event; title, site, season, layout version and printed sheet id; how to walk |
//! | C4 ([`DATE_CELL`]) | day observed, a date; to fill in |
//! | G4 ([`OBSERVER_CELL`]) | who observed, text; to fill in |
//! | row 6 | headings; a measure's name stands over its two columns |
//! | row 7 | units |
//! | row 8 | what may be written; `if none` over the second column |
//! | from row 9 ([`FIRST_PLOT_ROW`]) | one plot per row, in walking order, as many as the metadata say |
//! | A | place in the walk, from 1 |
//! | B ([`PLOT_COLUMN`]) | plot number |
//! | C, D, E | range, pass, treatment (empty on a blind sheet) |
//! | F, G; H, I; ... (from [`FIRST_MEASURE_COLUMN`]) | two columns per measure: the value, and why there is none |
//! | the column after the last measure | a note on the plot; to fill in |
//!
//! A value cell holds a number, a date, or text; a scale's code may come back as a number (`3.0` for the code `3`). The
//! cell after it is empty or one of the words `not seen`, `lost`, `not applicable`. Both empty: not yet. A typed 0 is a
//! value.
//!
//! The metadata worksheet has one record per row; column A names the kind of record:
//!
//! | A | B | C | D | E | F | G | H | I | J |
//! |---|---|---|---|---|---|---|---|---|---|
//! | `format` | [`FORMAT`] | [`FORMAT_VERSION`] | | | | | | | |
//! | `trial` | trial code | layout version | | | | | | | |
//! | `sheet` | sheet id | worksheet's name | event | number of plots | column of the note | | | | |
//! | `measure` | sheet id | key | name | unit | `number`, `whole`, `scale`, `date` or `text` | column of the value | column of "if none" | least | most |
//!
//! Columns in the metadata count from 0, like the constants. Each event has its own `trial` record before its `sheet`
//! record, followed by its `measure` records.

mod event_sheet;
mod metadata;
mod text;

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, XlsxError};

use crate::error::PublishError;
use crate::field_sheet::FieldSheet;

/// Name of the hidden worksheet with the metadata.
pub const METADATA_SHEET: &str = "guardrow";
/// Name of the hidden worksheet with the drop-down lists.
pub const LISTS_SHEET: &str = "guardrow_lists";
/// What the metadata call this kind of file.
pub const FORMAT: &str = "guardrow field sheet";
/// Version of the cell layout.
pub const FORMAT_VERSION: u32 = 1;
/// Row and column of the day observed.
pub const DATE_CELL: (u32, u16) = (3, 2);
/// Row and column of the observer.
pub const OBSERVER_CELL: (u32, u16) = (3, 6);
/// Row of the first plot.
pub const FIRST_PLOT_ROW: u32 = 8;
/// Column of the plot number.
pub const PLOT_COLUMN: u16 = 1;
/// Column of the first measure's value; its "if none" stands in the next column.
pub const FIRST_MEASURE_COLUMN: u16 = 5;

/// Measures beyond this do not fit a worksheet that people can fill in.
const MOST_MEASURES: usize = 100;

/// Writes the workbook. The same sheets give the same bytes.
///
/// # Errors
/// [`PublishError::Sheet`] for an event with more than 100 measures; [`PublishError::Spreadsheet`] if the writer refuses
/// something else.
pub fn field_sheets_xlsx(sheets: &[FieldSheet]) -> Result<Vec<u8>, PublishError> {
    if let Some(sheet) = sheets.iter().find(|sheet| sheet.measures.len() > MOST_MEASURES) {
        let what = format!("{} measures, expected at most {MOST_MEASURES}", sheet.measures.len());
        return Err(PublishError::Sheet { event: sheet.event.clone(), what });
    }
    let refused = |sheet: &str| {
        let sheet = sheet.to_string();
        move |source: XlsxError| PublishError::Spreadsheet { sheet, source: Box::new(source) }
    };
    let mut workbook = Workbook::new();
    let title = sheets.first().map_or(String::new(), |sheet| format!("Field sheets, {}", sheet.trial_code));
    workbook.set_properties(&properties(&title).map_err(refused("properties"))?);
    let names = text::sheet_names(sheets.iter().map(|sheet| sheet.event.as_str()));
    let lists = metadata::lists(sheets);
    for (index, (sheet, name)) in sheets.iter().zip(&names).enumerate() {
        event_sheet::write(workbook.add_worksheet(), sheet, name, &lists[index]).map_err(refused(&sheet.event))?;
    }
    metadata::write(workbook.add_worksheet(), sheets, &names).map_err(refused(METADATA_SHEET))?;
    metadata::write_lists(workbook.add_worksheet(), sheets, &lists).map_err(refused(LISTS_SHEET))?;
    workbook.save_to_buffer().map_err(refused("file"))
}

/// A fixed creation time: the writer would otherwise ask the clock.
fn properties(title: &str) -> Result<DocProperties, XlsxError> {
    let never = ExcelDateTime::from_ymd(2000, 1, 1)?;
    Ok(DocProperties::new().set_title(text::cut(title, 200)).set_author("Guardrow").set_creation_datetime(&never))
}
