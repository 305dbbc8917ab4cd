//! Errors as a person meets them: what, where, what to try.

use crate::Remark;
use serde::{Deserialize, Serialize};

/// What kind of trouble it is; each shell maps it once (exit code, HTTP status).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ErrorKind {
    /// What was given could not be read at all.
    NotUnderstood,
    /// What was asked for does not exist.
    NotThere,
    /// It was read, and is refused; the remarks say why.
    Refused,
    /// Somebody else changed it in the meantime.
    Stale,
    /// The layout is locked because something was printed.
    Locked,
    /// Another process has the station open.
    InUse,
    /// The station was made by a newer version.
    Newer,
    /// The disk is full or the folder cannot be written.
    NoRoom,
    /// The station's files are damaged.
    Damaged,
    /// A fault of the program.
    Internal,
}

/// An error in three parts, with a remark per row or field where there are several.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema, thiserror::Error)]
#[error("{what}")]
pub struct StationError {
    /// What kind of trouble it is.
    pub kind: ErrorKind,
    /// What is wrong.
    pub what: String,
    /// Where: file, sheet, line, column, or field of the plan; empty when the sentence says it.
    pub place: String,
    /// What to try.
    pub try_this: String,
    /// One remark per row or field.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub remarks: Vec<Remark>,
}

impl StationError {
    /// An error of one kind with its three parts.
    pub fn new(
        kind: ErrorKind,
        what: impl Into<String>,
        place: impl Into<String>,
        try_this: impl Into<String>,
    ) -> StationError {
        StationError { kind, what: what.into(), place: place.into(), try_this: try_this.into(), remarks: Vec::new() }
    }

    /// The same error with remarks.
    pub fn with_remarks(mut self, remarks: Vec<Remark>) -> StationError {
        self.remarks = remarks;
        self
    }
}
