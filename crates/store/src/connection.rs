//! Connections to the database: the one that writes, and the pool of those that read.

use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags};

use crate::StoreError;

/// How long to wait for another program that holds the file for a moment (a backup tool, a database browser).
const PATIENCE: Duration = Duration::from_secs(5);

/// Readers that are kept open between reads; more are opened when needed and closed again.
const IDLE_READERS: usize = 4;

/// Opens the connection that writes, in write-ahead mode with a full sync at every commit.
pub(crate) fn open_writer(path: &Path) -> Result<Connection, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    prepare_writer(path, flags).map_err(|e| StoreError::database(path, e))
}

fn prepare_writer(path: &Path, flags: OpenFlags) -> rusqlite::Result<Connection> {
    let conn = Connection::open_with_flags(path, flags)?;
    conn.busy_timeout(PATIENCE)?;
    conn.pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(()))?;
    conn.pragma_update(None, "synchronous", "FULL")?;
    // macOS needs these two to push the data through the drive's own cache; elsewhere they change nothing.
    conn.pragma_update(None, "fullfsync", true)?;
    conn.pragma_update(None, "checkpoint_fullfsync", true)?;
    conn.pragma_update(None, "foreign_keys", true)?;
    // A REPLACE deletes rows; with this on, the triggers that refuse a DELETE see it too.
    conn.pragma_update(None, "recursive_triggers", true)?;
    conn.pragma_update(None, "trusted_schema", false)?;
    conn.set_prepared_statement_cache_capacity(64);
    Ok(conn)
}

fn open_reader(path: &Path) -> Result<Connection, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let open = || {
        let conn = Connection::open_with_flags(path, flags)?;
        conn.busy_timeout(PATIENCE)?;
        conn.pragma_update(None, "trusted_schema", false)?;
        conn.set_prepared_statement_cache_capacity(64);
        Ok(conn)
    };
    open().map_err(|e| StoreError::database(path, e))
}

/// A small pool of read-only connections.
#[derive(Debug)]
pub(crate) struct Readers {
    file: PathBuf,
    idle: Mutex<Vec<Connection>>,
}

impl Readers {
    pub(crate) fn of(file: PathBuf) -> Self {
        Self { file, idle: Mutex::new(Vec::new()) }
    }

    /// Lends a connection to `work`. A connection whose `work` panicked is not used again.
    pub(crate) fn with<T, E: From<StoreError>>(&self, work: impl FnOnce(&Connection) -> Result<T, E>) -> Result<T, E> {
        let idle = self.idle.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let conn = match idle {
            Some(conn) => conn,
            None => open_reader(&self.file)?,
        };
        let answer = work(&conn);
        let mut idle = self.idle.lock().unwrap_or_else(PoisonError::into_inner);
        if idle.len() < IDLE_READERS {
            idle.push(conn);
        }
        answer
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// No kill of a process can show a missing sync, so the settings that the promise rests on are looked at directly.
    /// Source of the numbers: "PRAGMA Statements", sqlite.org/pragma.html (synchronous 2 is FULL).
    #[test]
    fn the_writer_syncs_fully_and_the_reader_cannot_write() {
        let home = tempfile::tempdir().unwrap();
        let file = home.path().join("station.db");
        let writer = open_writer(&file).unwrap();
        let number = |name: &str| writer.pragma_query_value(None, name, |row| row.get::<_, i64>(0)).unwrap();
        assert_eq!(["synchronous", "foreign_keys", "recursive_triggers", "trusted_schema"].map(number), [2, 1, 1, 0]);
        let mode: String = writer.pragma_query_value(None, "journal_mode", |row| row.get(0)).unwrap();
        assert_eq!(mode, "wal");
        writer.execute_batch("CREATE TABLE made (x)").unwrap();
        let error = open_reader(&file).unwrap().execute_batch("CREATE TABLE other (x)").unwrap_err();
        assert_eq!(error.sqlite_error_code(), Some(rusqlite::ErrorCode::ReadOnly), "{error}");
    }
}
