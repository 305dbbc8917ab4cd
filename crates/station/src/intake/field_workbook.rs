//! Reading a filled field workbook back, by the hidden sheet that says where everything stands.

use guardrow_publish::workbook::{DATE_CELL, FIRST_PLOT_ROW, FORMAT, FORMAT_VERSION, METADATA_SHEET, PLOT_COLUMN};

use super::plot_note::FoundNote;
use super::shape::{FoundValue, Shape};
use super::table::{Cell, Table};
use super::workbook::Workbook;
use crate::StationError;
use crate::dossier::Dossier;
use crate::error::ErrorKind;

/// One event sheet as the hidden sheet describes it.
struct EventSheet {
    sheet: String,
    event: String,
    plots: usize,
    note: usize,
    measures: Vec<MeasureColumns>,
}

/// Where a measure stands: its key, the column of its value, and the column that says why there is none.
struct MeasureColumns {
    key: String,
    value: usize,
    none: usize,
}

/// The values of a filled field workbook; nothing when it is another workbook.
///
/// # Errors
/// [`ErrorKind::Refused`] for the sheet of another trial, of an older or newer layout, or of a newer program.
pub(crate) fn tables(
    workbook: &mut Workbook,
    file: &str,
    trial: &Dossier,
) -> Result<Option<Vec<(Table, Shape)>>, StationError> {
    if !workbook.sheets().iter().any(|sheet| sheet == METADATA_SHEET) {
        return Ok(None);
    }
    let metadata = workbook.cells(METADATA_SHEET)?;
    let records: Vec<Vec<String>> = metadata.iter().map(|(_, cells)| cells.iter().map(Cell::text).collect()).collect();
    let records: Vec<Record<'_>> = records.iter().map(|cells| Record { file, cells }).collect();
    refuse_other_format(file, &records)?;
    refuse_other_trial(file, &records, trial)?;
    let mut found = Vec::new();
    for sheet in event_sheets(&records)? {
        let rows = workbook.cells(&sheet.sheet)?;
        found.push(read_sheet(&sheet, &rows, trial));
    }
    Ok(Some(found))
}

/// One row of the hidden sheet.
struct Record<'a> {
    file: &'a str,
    cells: &'a [String],
}

impl Record<'_> {
    fn is(&self, kind: &str) -> bool {
        self.cells.first().is_some_and(|cell| cell == kind)
    }

    fn text(&self, at: usize) -> &str {
        self.cells.get(at).map_or("", String::as_str)
    }

    fn whole(&self, at: usize) -> Result<usize, StationError> {
        self.text(at).parse().map_err(|_| {
            refused(
                self.file,
                format!("the hidden sheet has “{}” where a number should stand", self.text(at)),
                "print the workbook again, and copy the values over",
            )
        })
    }
}

fn refuse_other_format(file: &str, records: &[Record<'_>]) -> Result<(), StationError> {
    let format = records.iter().find(|record| record.is("format"));
    let known = format.is_some_and(|format| format.text(1) == FORMAT && format.text(2) == FORMAT_VERSION.to_string());
    if known {
        return Ok(());
    }
    Err(refused(
        file,
        format!("the hidden sheet is not “{FORMAT}”, version {FORMAT_VERSION}"),
        "the workbook may be from a newer program, or its hidden sheet was changed; print it again",
    ))
}

fn refuse_other_trial(file: &str, records: &[Record<'_>], trial: &Dossier) -> Result<(), StationError> {
    let version = trial.laid()?.line.version;
    for record in records.iter().filter(|record| record.is("trial")) {
        if !record.text(1).eq_ignore_ascii_case(trial.code()) {
            return Err(refused(
                file,
                format!("this is a sheet of trial {}, not of {}", record.text(1), trial.code()),
                format!("bring it to trial {}", record.text(1)),
            ));
        }
        if record.whole(2)? != version as usize {
            return Err(refused(
                file,
                format!("the sheet is for layout version {}; the current one is version {version}", record.text(2)),
                "plot numbers may mean other treatments now; print the sheet again, and copy over what is still right",
            ));
        }
    }
    Ok(())
}

fn event_sheets(records: &[Record<'_>]) -> Result<Vec<EventSheet>, StationError> {
    let mut sheets: Vec<EventSheet> = Vec::new();
    for record in records {
        if record.is("sheet") {
            sheets.push(EventSheet {
                sheet: record.text(2).to_owned(),
                event: record.text(3).to_owned(),
                plots: record.whole(4)?,
                note: record.whole(5)?,
                measures: Vec::new(),
            });
        } else if record.is("measure") {
            let columns =
                MeasureColumns { key: record.text(2).to_owned(), value: record.whole(6)?, none: record.whole(7)? };
            if let Some(sheet) = sheets.last_mut() {
                sheet.measures.push(columns);
            }
        }
    }
    Ok(sheets)
}

fn read_sheet(sheet: &EventSheet, rows: &[(usize, Vec<Cell>)], trial: &Dossier) -> (Table, Shape) {
    let line_of = |line: usize| rows.iter().find(|(at, _)| *at == line).map(|(_, cells)| cells);
    let cell = |cells: &[Cell], column: usize| cells.get(column).cloned().unwrap_or(Cell::Empty);
    let (date_row, date_column) = DATE_CELL;
    let day = line_of(date_row as usize + 1)
        .map(|cells| cell(cells, usize::from(date_column)))
        .filter(|cell| !cell.is_empty());
    let mut values = Vec::new();
    let mut notes = Vec::new();
    for row in 0..sheet.plots {
        let line = FIRST_PLOT_ROW as usize + 1 + row;
        let Some(cells) = line_of(line) else { continue };
        let plot = cell(cells, usize::from(PLOT_COLUMN));
        let note = cell(cells, sheet.note);
        if !note.is_empty() {
            notes.push(FoundNote { line, plot: plot.clone(), day: day.clone(), text: note.text() });
        }
        for measure in &sheet.measures {
            let written = [cell(cells, measure.value), cell(cells, measure.none)];
            for value in written.into_iter().filter(|cell| !cell.is_empty()) {
                values.push(found(line, &plot, day.clone(), &measure.key, value, trial));
            }
        }
    }
    let table = Table {
        sheet: Some(sheet.sheet.clone()),
        read_as: format!("filled field sheet of {}", sheet.event),
        guesses: Vec::new(),
        decimal_comma: false,
        header: Vec::new(),
        rows: Vec::new(),
    };
    let shape = Shape { values, read_as: table.read_as.clone(), left_aside: Vec::new(), notes };
    (table, shape)
}

fn found(line: usize, plot: &Cell, day: Option<Cell>, key: &str, value: Cell, trial: &Dossier) -> FoundValue {
    FoundValue {
        line,
        column: key.to_owned(),
        plot: plot.clone(),
        treatment: None,
        day,
        measure: trial.measures.iter().position(|measure| measure.key == key).ok_or_else(|| key.to_owned()),
        unit: None,
        value,
    }
}

fn refused(file: &str, what: impl Into<String>, try_this: impl Into<String>) -> StationError {
    StationError::new(ErrorKind::Refused, what, file, try_this)
}
