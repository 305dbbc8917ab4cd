//! The versions of the database and the way from one to the next.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use crate::StoreError;

/// Marks a SQLite file as a Guardrow station ("GRow" in ASCII).
pub const APPLICATION_ID: u32 = 0x4752_6f77;

/// One migration per version: the first takes an empty database to version 1.
const MIGRATIONS: [&str; 5] = [
    include_str!("../migrations/0001_trials.sql"),
    include_str!("../migrations/0002_lots.sql"),
    include_str!("../migrations/0003_journal.sql"),
    include_str!("../migrations/0004_publications.sql"),
    include_str!("../migrations/0005_units.sql"),
];

/// The database version that this program writes.
pub const SCHEMA_VERSION: u32 = MIGRATIONS.len() as u32;

/// Bytes of a SQLite file's header. Source: "Database File Format", section 1.3, sqlite.org/fileformat.html.
const HEADER: usize = 100;

/// Looks at the file without opening it as a database, so that a file that is refused is left untouched.
///
/// Returns the version in its header, which may lag behind what stands in its write-ahead log.
///
/// # Errors
/// [`StoreError::NotADatabase`], [`StoreError::ForeignDatabase`], [`StoreError::Damaged`] when the file is shorter than
/// its header says, [`StoreError::Newer`].
pub(crate) fn inspect(path: &Path) -> Result<u32, StoreError> {
    let (header, length) = read_header(path)?;
    let word = |at: usize| u32::from_be_bytes([header[at], header[at + 1], header[at + 2], header[at + 3]]);
    let application_id = word(68);
    if application_id != APPLICATION_ID {
        return Err(StoreError::ForeignDatabase { file: path.to_owned(), application_id });
    }
    refuse_newer(path, word(60))?;
    let log_is_empty = log_length(path) == 0;
    // The page count counts only if it was written together with the change counter (header bytes 24 and 92).
    if log_is_empty && word(24) == word(92) {
        refuse_shorter(path, length, u64::from(word(28)) * page_size(&header))?;
    }
    Ok(if log_is_empty { word(60) } else { version_with_log(path)? })
}

fn read_header(path: &Path) -> Result<([u8; HEADER], u64), StoreError> {
    let failed = |e| StoreError::file("reading", path, e);
    let mut file = File::open(path).map_err(failed)?;
    let length = file.metadata().map_err(failed)?.len();
    let not_a_database = |found: String| StoreError::NotADatabase { file: path.to_owned(), found };
    if length < HEADER as u64 {
        return Err(not_a_database(format!("it has only {length} bytes")));
    }
    let mut header = [0; HEADER];
    file.read_exact(&mut header).map_err(failed)?;
    match header.starts_with(b"SQLite format 3\0") {
        true => Ok((header, length)),
        false => Err(not_a_database("it does not begin as a database does".into())),
    }
}

/// A stored 1 stands for 65536, which does not fit in the two bytes.
fn page_size(header: &[u8; HEADER]) -> u64 {
    match u16::from_be_bytes([header[16], header[17]]) {
        1 => 65_536,
        size => u64::from(size),
    }
}

fn refuse_shorter(path: &Path, length: u64, expected: u64) -> Result<(), StoreError> {
    match length < expected {
        true => Err(StoreError::Damaged {
            file: path.to_owned(),
            detail: format!("it ends after {length} bytes, {expected} were expected"),
        }),
        false => Ok(()),
    }
}

fn refuse_newer(path: &Path, found: u32) -> Result<(), StoreError> {
    match found > SCHEMA_VERSION {
        true => Err(StoreError::Newer { file: path.to_owned(), found, known: SCHEMA_VERSION }),
        false => Ok(()),
    }
}

fn log_length(path: &Path) -> u64 {
    let mut log = path.as_os_str().to_owned();
    log.push("-wal");
    std::fs::metadata(PathBuf::from(log)).map_or(0, |meta| meta.len())
}

/// A read-only connection sees the log but never moves it into the file.
fn version_with_log(path: &Path) -> Result<u32, StoreError> {
    let conn = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX)
        .map_err(|e| StoreError::database(path, e))?;
    let found = version(&conn).map_err(|e| StoreError::database(path, e))?;
    refuse_newer(path, found)?;
    Ok(found)
}

fn version(conn: &Connection) -> rusqlite::Result<u32> {
    conn.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Brings the database to [`SCHEMA_VERSION`], all steps in one transaction.
pub(crate) fn migrate(conn: &mut Connection) -> rusqlite::Result<()> {
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let found = version(&tx)?;
    for migration in MIGRATIONS.iter().skip(found as usize) {
        tx.execute_batch(migration)?;
    }
    tx.pragma_update(None, "application_id", APPLICATION_ID)?;
    tx.pragma_update(None, "user_version", SCHEMA_VERSION)?;
    tx.commit()
}
