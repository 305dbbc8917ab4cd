//! What can go wrong with a station's database: what happened, where, and what to try.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use rusqlite::{ErrorCode, ffi};
use uuid::Uuid;

use crate::Moment;

/// Why the store refused or failed. The message says what happened and where; [`StoreError::help`] says what to try.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The folder holds no `station.db`.
    #[error("{} is not a station: it holds no station.db", .folder.display())]
    NotAStation {
        /// the folder that was named
        folder: PathBuf,
    },
    /// A station is there already.
    #[error("{} is a station already", .folder.display())]
    AlreadyStation {
        /// the folder that was named
        folder: PathBuf,
    },
    /// The folder for a new station holds something else.
    #[error("{} is not empty: it holds {example}", .folder.display())]
    FolderNotEmpty {
        /// the folder that was named
        folder: PathBuf,
        /// one name found in it
        example: String,
    },
    /// Another process has the station open.
    #[error("the station {} is in use by another process{}", .folder.display(), .pid.map(|pid| format!(" (process {pid})")).unwrap_or_default())]
    InUse {
        /// the station's folder
        folder: PathBuf,
        /// the other process, as far as it can be told
        pid: Option<u32>,
    },
    /// The database was written by a newer Guardrow. It was left as it is.
    #[error("{} was written by a newer Guardrow: it has database version {found}, this one knows up to {known}", .file.display())]
    Newer {
        /// the database file
        file: PathBuf,
        /// the version found in it
        found: u32,
        /// the newest version that this program knows
        known: u32,
    },
    /// The database is of an older version and was opened for reading only.
    #[error("{} has database version {found}; this Guardrow reads version {known}", .file.display())]
    Older {
        /// the database file
        file: PathBuf,
        /// the version found in it
        found: u32,
        /// the version that this program reads
        known: u32,
    },
    /// The file is not a SQLite database.
    #[error("{} is not a database: {found}", .file.display())]
    NotADatabase {
        /// the file
        file: PathBuf,
        /// what was found instead
        found: String,
    },
    /// The file is a database, but not a station's.
    #[error("{} is a database of another program (application id {application_id:#010x})", .file.display())]
    ForeignDatabase {
        /// the file
        file: PathBuf,
        /// the application id found in it
        application_id: u32,
    },
    /// The database file is damaged.
    #[error("{} is damaged: {detail}", .file.display())]
    Damaged {
        /// the database file
        file: PathBuf,
        /// what the check found
        detail: String,
    },
    /// The folder or file cannot be written.
    #[error("{} cannot be written", .path.display())]
    NotWritable {
        /// the folder or file
        path: PathBuf,
    },
    /// The store was opened with [`Store::open_read_only`](crate::Store::open_read_only).
    #[error("the station {} was opened for reading only", .folder.display())]
    OpenedReadOnly {
        /// the station's folder
        folder: PathBuf,
    },
    /// No room left; nothing of the change was kept.
    #[error("the disk that holds {} is full; nothing of this change was kept", .file.display())]
    DiskFull {
        /// the file that could not grow
        file: PathBuf,
    },
    /// Another program holds the database.
    #[error("{} is held by another program", .file.display())]
    Busy {
        /// the database file
        file: PathBuf,
    },
    /// A file operation failed.
    #[error("{doing} {} failed: {source}", .path.display())]
    File {
        /// what was attempted, as in "reading"
        doing: &'static str,
        /// on which file or folder
        path: PathBuf,
        /// the system's reason
        source: io::Error,
    },
    /// The database refused a statement for a reason of its own.
    #[error("the database {} refused: {source}", .file.display())]
    Database {
        /// the database file
        file: PathBuf,
        /// the database's reason
        source: Box<rusqlite::Error>,
    },
    /// Somebody else appended a version in the meantime.
    #[error("the {what} was changed meanwhile: version {expected} was expected, version {found} is the latest")]
    Stale {
        /// "plan", "layout" or "lot"
        what: &'static str,
        /// the version that the caller built upon (0: none yet)
        expected: u32,
        /// the latest version in the station
        found: u32,
    },
    /// The layout is locked and no reason for a new draw was given.
    #[error("layout version {version} is locked ({what}); a new one needs a reason")]
    LayoutLocked {
        /// the locked version
        version: u32,
        /// what locked it, as in "packets printed"
        what: String,
    },
    /// The code is taken.
    #[error("there is a {what} with the code {code} already")]
    CodeTaken {
        /// "trial" or "lot"
        what: &'static str,
        /// the code
        code: String,
    },
    /// There is no such thing in this station.
    #[error("this station has no {what} {id}")]
    NoSuch {
        /// "trial", "layout", ...
        what: &'static str,
        /// what was asked for
        id: String,
    },
    /// Something with this identity is in the station already.
    #[error("the {what} {id} is in the station already")]
    AlreadyRecorded {
        /// "entry", "intake", ...
        what: &'static str,
        /// its identity
        id: Uuid,
    },
    /// A value that cannot be kept.
    #[error("{place}: {problem}")]
    Invalid {
        /// where it stands
        place: String,
        /// what is wrong with it
        problem: String,
    },
    /// An entry of a batch cannot be kept; nothing of the batch was.
    #[error("{place}: {problem}; nothing of this batch was kept")]
    BadEntry {
        /// the entry within its batch
        place: Box<EntryPlace>,
        /// what is wrong with it
        problem: String,
    },
    /// The entry to be corrected has been corrected already; nothing of the batch was kept.
    #[error(
        "{place}: the entry {replaced} was replaced already, by {by} at {recorded_at} (entry {replaced_by}); nothing of this batch was kept"
    )]
    Conflict {
        /// the entry within its batch
        place: Box<EntryPlace>,
        /// the entry that both correct
        replaced: Uuid,
        /// the correction that came first
        replaced_by: Uuid,
        /// who made it
        by: String,
        /// when
        recorded_at: Moment,
    },
    /// The same file was taken in before.
    #[error("{file_name} was taken in already, as {earlier_name} by {by} at {accepted_at}")]
    SameFileAgain {
        /// the file that arrives
        file_name: String,
        /// its name the first time
        earlier_name: String,
        /// who took it in
        by: String,
        /// when
        accepted_at: Moment,
    },
    /// A change failed half-way and its failure was passed over; everything was rolled back.
    #[error("one step of this change failed; nothing of it was kept")]
    HalfDone,
}

impl StoreError {
    /// What to try, in one or two sentences.
    pub fn help(&self) -> &'static str {
        match self {
            Self::NotAStation { .. } => "Name the folder of a station, or make a new station there.",
            Self::AlreadyStation { .. } => "Open it, or name another folder for the new station.",
            Self::FolderNotEmpty { .. } => "Name an empty folder, or one that does not exist yet.",
            Self::InUse { .. } => "Close the other Guardrow first; only one program may write to a station.",
            Self::Newer { .. } => "Open it with the newer Guardrow. The file was not changed.",
            Self::Older { .. } => {
                "Open the station once for writing with this Guardrow; it brings the database up to date and keeps a backup."
            }
            Self::NotADatabase { .. } => {
                "The file was overwritten or is another one. Put a backup in its place, from the station's backups folder."
            }
            Self::ForeignDatabase { .. } => "Name the folder of a Guardrow station.",
            Self::Damaged { .. } => {
                "Copy the whole folder aside as it is, then put the latest good backup in the place of station.db."
            }
            Self::NotWritable { .. } => {
                "Check who may write there, and whether the disk is mounted read-only; or copy the station to a place of your own."
            }
            Self::OpenedReadOnly { .. } => "Make the change in the program that has the station open for writing.",
            Self::DiskFull { .. } => {
                "Make room on the disk and do it again; everything that was accepted before is safe."
            }
            Self::Busy { .. } => "Close the other program that has station.db open, and do it again.",
            Self::File { .. } => "Check that the path exists and that you may use it.",
            Self::Database { .. } => {
                "This is a fault of Guardrow, not of your data. Nothing was changed; please report the message."
            }
            Self::Stale { .. } => "Look at the latest version, and make your change to that one.",
            Self::LayoutLocked { .. } => "Say why it is drawn again; the locked version stays readable.",
            Self::CodeTaken { .. } => "Choose another code.",
            Self::NoSuch { .. } => "Check the name; it may belong to another station.",
            Self::AlreadyRecorded { .. } => "It was kept the first time; there is nothing to do.",
            Self::Invalid { .. } | Self::BadEntry { .. } => "Put it right and hand it in again.",
            Self::Conflict { .. } => "Look at both corrections side by side, and correct the one that stands.",
            Self::SameFileAgain { .. } => "Leave it, or say why it is to be taken in a second time.",
            Self::HalfDone => "Do it again; if it keeps failing, check the station.",
        }
    }

    /// Wraps a failure of the operating system, telling "may not write" apart from the rest.
    pub(crate) fn file(doing: &'static str, path: &Path, source: io::Error) -> Self {
        match source.kind() {
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem if doing != "reading" => {
                Self::NotWritable { path: path.to_owned() }
            }
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::DiskFull { file: path.to_owned() },
            _ => Self::File { doing, path: path.to_owned(), source },
        }
    }

    /// Wraps a failure of the database file `file`.
    pub(crate) fn database(file: &Path, source: rusqlite::Error) -> Self {
        let file = file.to_owned();
        match source.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => Self::DiskFull { file },
            // On a disk without a free page the index of the log, which lies beside it, cannot even be made.
            Some(ErrorCode::SystemIoFailure) if extended_code(&source) == Some(ffi::SQLITE_IOERR_SHMSIZE) => {
                Self::DiskFull { file }
            }
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => Self::NotWritable { path: file },
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy { file },
            Some(ErrorCode::DatabaseCorrupt) => Self::Damaged { file, detail: source.to_string() },
            Some(ErrorCode::NotADatabase) => {
                Self::NotADatabase { file, found: "its content is not that of a database".into() }
            }
            Some(ErrorCode::ConstraintViolation) => Self::invalid("the record", constraint_problem(&source)),
            // The file is there and still cannot be opened: its folder does not let SQLite write the log beside it.
            Some(ErrorCode::CannotOpen) if file.exists() => Self::NotWritable { path: file },
            Some(ErrorCode::CannotOpen | ErrorCode::SystemIoFailure) => {
                Self::File { doing: "using", path: file, source: io::Error::other(source) }
            }
            _ => match source {
                rusqlite::Error::FromSqlConversionFailure(..)
                | rusqlite::Error::InvalidColumnType(..)
                | rusqlite::Error::IntegralValueOutOfRange(..)
                | rusqlite::Error::Utf8Error(..) => Self::Damaged { file, detail: source.to_string() },
                _ => Self::Database { file, source: Box::new(source) },
            },
        }
    }

    pub(crate) fn invalid(place: impl Into<String>, problem: impl Into<String>) -> Self {
        Self::Invalid { place: place.into(), problem: problem.into() }
    }

    pub(crate) fn no_such(what: &'static str, id: impl fmt::Display) -> Self {
        Self::NoSuch { what, id: id.to_string() }
    }
}

fn extended_code(source: &rusqlite::Error) -> Option<i32> {
    source.sqlite_error().map(|error| error.extended_code)
}

/// The database's own words name the rule of the table that was broken; they are for the rare value that no check of
/// ours caught.
fn constraint_problem(source: &rusqlite::Error) -> String {
    format!("it breaks a rule of the database ({source})")
}

/// Where an entry stands: its position in the batch, and in the file that it came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryPlace {
    /// position in the batch, from 1
    pub position: usize,
    /// the file that it was read from
    pub file: Option<String>,
    /// the sheet of that file
    pub sheet: Option<String>,
    /// the line of that file or sheet, from 1
    pub line: Option<u32>,
}

impl fmt::Display for EntryPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts = Vec::new();
        parts.extend(self.file.clone());
        parts.extend(self.sheet.as_ref().map(|sheet| format!("sheet {sheet}")));
        parts.extend(self.line.map(|line| format!("line {line}")));
        match parts.is_empty() {
            true => write!(f, "entry {}", self.position),
            false => write!(f, "entry {} ({})", self.position, parts.join(", ")),
        }
    }
}
