//! From a database column to a Rust value, and back.

use std::fmt::Display;
use std::str::FromStr;

use rusqlite::types::Type;
use rusqlite::{Row, RowIndex};
use serde_json::Value;
use uuid::Uuid;

use crate::Moment;

/// A column by its name or, where many rows are read, by its position.
pub(crate) trait Column: RowIndex + Display + Copy {}

impl<T: RowIndex + Display + Copy> Column for T {}

pub(crate) fn id(row: &Row<'_>, column: impl Column) -> rusqlite::Result<Uuid> {
    row.get::<_, [u8; 16]>(column).map(Uuid::from_bytes)
}

pub(crate) fn maybe_id(row: &Row<'_>, column: impl Column) -> rusqlite::Result<Option<Uuid>> {
    Ok(row.get::<_, Option<[u8; 16]>>(column)?.map(Uuid::from_bytes))
}

pub(crate) fn moment(row: &Row<'_>, column: impl Column) -> rusqlite::Result<Moment> {
    parsed(row, column)
}

/// A text column whose text must be readable as a `T`.
pub(crate) fn parsed<T>(row: &Row<'_>, column: impl Column) -> rusqlite::Result<T>
where
    T: FromStr,
    T::Err: Display,
{
    let text = row.get_ref(column)?.as_str()?;
    text.parse().map_err(|e: T::Err| unreadable(column, text, &e))
}

pub(crate) fn maybe_parsed<T>(row: &Row<'_>, column: impl Column) -> rusqlite::Result<Option<T>>
where
    T: FromStr,
    T::Err: Display,
{
    let text = row.get_ref(column)?.as_str_or_null()?;
    text.map(|text| text.parse().map_err(|e: T::Err| unreadable(column, text, &e))).transpose()
}

pub(crate) fn json(row: &Row<'_>, column: impl Column) -> rusqlite::Result<Value> {
    parsed(row, column)
}

fn unreadable(column: impl Display, text: &str, why: &dyn Display) -> rusqlite::Error {
    let text: String = text.chars().take(80).collect();
    rusqlite::Error::FromSqlConversionFailure(0, Type::Text, format!("column {column}: '{text}': {why}").into())
}

/// A whole number of the program as one of the database, which has one bit less.
pub(crate) fn integer(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}
