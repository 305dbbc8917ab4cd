//! A table as it stands in a file, before anybody knows what its columns mean.

use crate::StationError;
use crate::error::ErrorKind;

/// One cell: text as written, or a number that the file itself stores as a number.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Cell {
    /// Nothing.
    Empty,
    /// Text, trimmed.
    Text(String),
    /// A number.
    Number(f64),
    /// A calendar day.
    Day(jiff::civil::Date),
}

impl Cell {
    /// The cell as a person would write it.
    pub(crate) fn text(&self) -> String {
        match self {
            Cell::Empty => String::new(),
            Cell::Text(text) => text.clone(),
            Cell::Number(number) => number.to_string(),
            Cell::Day(day) => day.to_string(),
        }
    }

    /// True when there is nothing in it.
    pub(crate) fn is_empty(&self) -> bool {
        matches!(self, Cell::Empty)
    }
}

/// A header and the rows under it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Table {
    /// Name of the sheet, when the file has sheets.
    pub sheet: Option<String>,
    /// How it was read, for people.
    pub read_as: String,
    /// What was guessed.
    pub guesses: Vec<String>,
    /// True when numbers in text have a decimal comma.
    pub decimal_comma: bool,
    /// Column names, trimmed.
    pub header: Vec<String>,
    /// Each row with its line in the file, as many cells as the header.
    pub rows: Vec<(usize, Vec<Cell>)>,
}

impl Table {
    /// `file, sheet Stand, line 12` for messages.
    pub(crate) fn place(&self, file: &str, line: usize) -> String {
        match &self.sheet {
            Some(sheet) => format!("{file}, sheet {sheet}, line {line}"),
            None => format!("{file}, line {line}"),
        }
    }

    /// Index of the column with this name, letter case aside.
    pub(crate) fn column(&self, name: &str) -> Option<usize> {
        self.header.iter().position(|heading| heading.eq_ignore_ascii_case(name.trim()))
    }
}

/// Largest file that is looked at.
pub(crate) const LARGEST_FILE: usize = 200 * 1024 * 1024;

pub(crate) fn not_understood(file: &str, what: impl Into<String>, try_this: impl Into<String>) -> StationError {
    StationError::new(ErrorKind::NotUnderstood, what, file, try_this)
}
