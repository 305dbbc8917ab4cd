//! From a database column to a Rust value, and back.

use std::fmt::Display;
use std::str::FromStr;

use rusqlite::Row;
use rusqlite::types::Type;
use serde_json::Value;
use uuid::Uuid;

use crate::Moment;

pub(crate) fn id(row: &Row<'_>, column: &str) -> rusqlite::Result<Uuid> {
    row.get::<_, [u8; 16]>(column).map(Uuid::from_bytes)
}

pub(crate) fn maybe_id(row: &Row<'_>, column: &str) -> rusqlite::Result<Option<Uuid>> {
    Ok(row.get::<_, Option<[u8; 16]>>(column)?.map(Uuid::from_bytes))
}

pub(crate) fn moment(row: &Row<'_>, column: &str) -> rusqlite::Result<Moment> {
    parsed(row, column)
}

/// A text column whose text must be readable as a `T`.
pub(crate) fn parsed<T>(row: &Row<'_>, column: &str) -> rusqlite::Result<T>
where
    T: FromStr,
    T::Err: Display,
{
    let text: String = row.get(column)?;
    text.parse().map_err(|e: T::Err| unreadable(column, &text, &e))
}

pub(crate) fn maybe_parsed<T>(row: &Row<'_>, column: &str) -> rusqlite::Result<Option<T>>
where
    T: FromStr,
    T::Err: Display,
{
    let text: Option<String> = row.get(column)?;
    text.map(|text| text.parse().map_err(|e: T::Err| unreadable(column, &text, &e))).transpose()
}

pub(crate) fn json(row: &Row<'_>, column: &str) -> rusqlite::Result<Value> {
    parsed(row, column)
}

fn unreadable(column: &str, text: &str, why: &dyn Display) -> rusqlite::Error {
    let text: String = text.chars().take(80).collect();
    rusqlite::Error::FromSqlConversionFailure(0, Type::Text, format!("column {column}: '{text}': {why}").into())
}

/// A whole number of the program as one of the database, which has one bit less.
pub(crate) fn integer(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}
