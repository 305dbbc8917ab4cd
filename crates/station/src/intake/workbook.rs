//! Reading a workbook: a filled field sheet of Guardrow, or any sheet with a header line.

use std::io::Cursor;

use calamine::{Data, Reader, Xlsx};

use super::table::{Cell, Table, not_understood};
use crate::StationError;

/// True when the bytes begin as a workbook does (a ZIP archive).
pub(crate) fn is_workbook(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04")
}

/// An open workbook.
pub(crate) struct Workbook {
    file: String,
    inner: Xlsx<Cursor<Vec<u8>>>,
}

impl Workbook {
    /// Opens a workbook from its bytes.
    ///
    /// # Errors
    /// When the archive is damaged or cut off, or is no workbook.
    pub(crate) fn open(file: &str, bytes: &[u8]) -> Result<Workbook, StationError> {
        let inner = Xlsx::new(Cursor::new(bytes.to_vec())).map_err(|error| {
            not_understood(
                file,
                format!("the workbook cannot be opened: {error}"),
                "it may be half written or protected by a password; save it again as .xlsx",
            )
        })?;
        Ok(Workbook { file: file.to_owned(), inner })
    }

    /// Names of all sheets, hidden ones included.
    pub(crate) fn sheets(&self) -> Vec<String> {
        self.inner.sheet_names().to_vec()
    }

    /// The cells of one sheet from its first used row, with the line number of each row.
    pub(crate) fn cells(&mut self, sheet: &str) -> Result<Vec<(usize, Vec<Cell>)>, StationError> {
        let range = self.inner.worksheet_range(sheet).map_err(|error| {
            not_understood(&self.file, format!("sheet {sheet} cannot be read: {error}"), "save the workbook again")
        })?;
        let (first_row, first_column) = range.start().unwrap_or((0, 0));
        Ok(range
            .rows()
            .enumerate()
            .map(|(index, row)| {
                let mut cells = vec![Cell::Empty; first_column as usize];
                cells.extend(row.iter().map(cell));
                (first_row as usize + index + 1, cells)
            })
            .collect())
    }

    /// The first sheet that has a header line, as a table.
    pub(crate) fn first_table(&mut self) -> Result<Table, StationError> {
        for sheet in self.sheets() {
            let rows = self.cells(&sheet)?;
            let header_at =
                rows.iter().position(|(_, cells)| cells.iter().filter(|cell| !cell.is_empty()).count() >= 2);
            if let Some(at) = header_at {
                return Ok(table_from(sheet, &rows[at], &rows[at + 1..]));
            }
        }
        Err(not_understood(
            &self.file,
            "no sheet has a header line with at least two columns",
            "the first line of the sheet must name the columns, for example: plot, stand, height",
        ))
    }
}

/// Makes a table of a header row and the rows under it.
pub(crate) fn table_from(sheet: String, header: &(usize, Vec<Cell>), rows: &[(usize, Vec<Cell>)]) -> Table {
    let names: Vec<String> = header.1.iter().map(|cell| cell.text().trim().to_owned()).collect();
    let width = names.len();
    let rows = rows
        .iter()
        .filter(|(_, cells)| cells.iter().any(|cell| !cell.is_empty()))
        .map(|(line, cells)| {
            let mut cells = cells.clone();
            cells.resize(width, Cell::Empty);
            (*line, cells)
        })
        .collect();
    let read_as = format!("sheet {sheet} of a workbook");
    let guesses = match header.0 {
        1 => Vec::new(),
        line => vec![format!("line {line} of the sheet is taken as the header")],
    };
    Table { sheet: Some(sheet), read_as, guesses, decimal_comma: false, header: names, rows }
}

fn cell(data: &Data) -> Cell {
    match data {
        Data::Empty => Cell::Empty,
        Data::String(text) if text.trim().is_empty() => Cell::Empty,
        Data::String(text) => Cell::Text(text.trim().to_owned()),
        Data::Float(number) => Cell::Number(*number),
        Data::Int(number) => Cell::Number(*number as f64),
        Data::DateTime(moment) => day(moment).map_or_else(|| Cell::Number(moment.as_f64()), Cell::Day),
        other => Cell::Text(other.to_string()),
    }
}

fn day(moment: &calamine::ExcelDateTime) -> Option<jiff::civil::Date> {
    let text = moment.as_datetime()?.date().to_string();
    text.parse().ok()
}
