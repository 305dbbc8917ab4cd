//! The one shape of every error answer, and the status of each kind.

use axum::Json;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use guardrow_station::{ErrorKind, Remark, StationError};
use serde::{Deserialize, Serialize};

/// What kind of trouble it is: the station's kinds, and those that only a server meets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FaultKind {
    /// What was given could not be read at all.
    NotUnderstood,
    /// The request does not come from this machine's own pages.
    NotAdmitted,
    /// What was asked for does not exist.
    NotThere,
    /// The address exists and does something else.
    NotAllowed,
    /// Somebody else changed it in the meantime.
    Stale,
    /// The layout is locked because something was printed.
    Locked,
    /// The request holds more bytes than the server takes.
    TooLarge,
    /// The request's content type is another than this address reads.
    WrongContentType,
    /// It was read, and is refused; the remarks say why.
    Refused,
    /// Another process has the station open.
    InUse,
    /// A fault of the program.
    Internal,
    /// The station's files are damaged.
    Damaged,
    /// The station was made by a newer version.
    Newer,
    /// The disk is full or the folder cannot be written.
    NoRoom,
}

impl FaultKind {
    /// The HTTP status that carries this kind.
    pub fn status(self) -> StatusCode {
        match self {
            FaultKind::NotUnderstood => StatusCode::BAD_REQUEST,
            FaultKind::NotAdmitted => StatusCode::FORBIDDEN,
            FaultKind::NotThere => StatusCode::NOT_FOUND,
            FaultKind::NotAllowed => StatusCode::METHOD_NOT_ALLOWED,
            FaultKind::Stale | FaultKind::Locked => StatusCode::CONFLICT,
            FaultKind::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            FaultKind::WrongContentType => StatusCode::UNSUPPORTED_MEDIA_TYPE,
            FaultKind::Refused => StatusCode::UNPROCESSABLE_ENTITY,
            FaultKind::InUse => StatusCode::LOCKED,
            FaultKind::Internal | FaultKind::Damaged => StatusCode::INTERNAL_SERVER_ERROR,
            FaultKind::Newer => StatusCode::SERVICE_UNAVAILABLE,
            FaultKind::NoRoom => StatusCode::INSUFFICIENT_STORAGE,
        }
    }
}

impl From<ErrorKind> for FaultKind {
    fn from(kind: ErrorKind) -> FaultKind {
        match kind {
            ErrorKind::NotUnderstood => FaultKind::NotUnderstood,
            ErrorKind::NotThere => FaultKind::NotThere,
            ErrorKind::Refused => FaultKind::Refused,
            ErrorKind::Stale => FaultKind::Stale,
            ErrorKind::Locked => FaultKind::Locked,
            ErrorKind::InUse => FaultKind::InUse,
            ErrorKind::Newer => FaultKind::Newer,
            ErrorKind::NoRoom => FaultKind::NoRoom,
            ErrorKind::Damaged => FaultKind::Damaged,
            ErrorKind::Internal => FaultKind::Internal,
        }
    }
}

/// An error in three parts, with a remark per row or field where there are several.
///
/// As in the station's errors, the parts begin small and end without a full stop; a page sets them as it likes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Fault {
    /// What kind of trouble it is.
    pub kind: FaultKind,
    /// What is wrong.
    pub what: String,
    /// Where: file, sheet, line, column, or field of the request; empty when the sentence says it.
    pub place: String,
    /// What to try.
    pub try_this: String,
    /// One remark per row or field; often empty.
    pub remarks: Vec<Remark>,
}

impl Fault {
    /// An error of one kind with its three parts.
    pub fn new(
        kind: FaultKind,
        what: impl Into<String>,
        place: impl Into<String>,
        try_this: impl Into<String>,
    ) -> Fault {
        Fault { kind, what: what.into(), place: place.into(), try_this: try_this.into(), remarks: Vec::new() }
    }

    /// The program's own fault; its cause goes to the log, not to the page.
    pub fn internal(cause: &str) -> Fault {
        tracing::error!(cause, "a request met a fault of the program");
        Fault::new(
            FaultKind::Internal,
            "the program met a fault of its own and could not answer",
            "",
            "load the page again and look whether the last step was recorded; the program's log names the fault",
        )
    }
}

impl From<StationError> for Fault {
    fn from(error: StationError) -> Fault {
        if error.kind == ErrorKind::Internal {
            tracing::error!(cause = error.what, place = error.place, "a use case met a fault of the program");
        }
        Fault {
            kind: error.kind.into(),
            what: error.what,
            place: error.place,
            try_this: error.try_this,
            remarks: error.remarks,
        }
    }
}

/// The body of every answer that is an error.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ErrorAnswer {
    /// The error.
    pub error: Fault,
}

impl IntoResponse for Fault {
    fn into_response(self) -> Response {
        (self.kind.status(), Json(ErrorAnswer { error: self })).into_response()
    }
}
