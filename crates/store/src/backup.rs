//! Backups of the running database, and the check of a database as a whole.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use rusqlite::Connection;
use rusqlite::backup::{Backup as OnlineBackup, StepResult};

use crate::folder::sync_folder;
use crate::{Store, StoreError};

/// Problems that are listed when a database is damaged; more would not help a person.
const PROBLEMS_SHOWN: usize = 5;

/// A backup that was made and checked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Backup {
    /// the file
    pub file: PathBuf,
    /// its size
    pub bytes: u64,
}

impl Store {
    /// Copies the database as it is now into the new file `path`, checks the copy, and only then gives it its name.
    /// Others go on reading and writing meanwhile. Photos and publications are plain files and are not in it.
    ///
    /// # Errors
    /// [`StoreError::Invalid`] when `path` exists, [`StoreError::DiskFull`], [`StoreError::NotWritable`],
    /// [`StoreError::Damaged`] when the copy does not pass its check.
    pub fn backup_to(&self, path: impl AsRef<Path>) -> Result<Backup, StoreError> {
        let path = path.as_ref();
        if path.exists() {
            return Err(StoreError::invalid(
                path.display().to_string(),
                "this file exists; a backup overwrites nothing",
            ));
        }
        let file = self.file();
        self.read(|reading| copy_checked(reading.conn, &file, path))
    }
}

/// Makes a backup at `path` in place of one that stands there (from an attempt that did not finish).
pub(crate) fn replace_backup(conn: &Connection, path: &Path) -> Result<Backup, StoreError> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder).map_err(|e| StoreError::file("making", folder, e))?;
    }
    copy_checked(conn, path, path)
}

fn copy_checked(from: &Connection, from_file: &Path, path: &Path) -> Result<Backup, StoreError> {
    let mut part = path.as_os_str().to_owned();
    part.push(".part");
    let part = PathBuf::from(part);
    remove_if_there(&part)?;
    let copied = copy(from, from_file, &part).and_then(|()| name_finished(&part, path));
    if copied.is_err() {
        // The failure that is returned matters more than one of the tidying up.
        let _ = fs::remove_file(&part);
    }
    copied
}

fn copy(from: &Connection, from_file: &Path, part: &Path) -> Result<(), StoreError> {
    let failed = |e| StoreError::database(part, e);
    let mut to = Connection::open(part).map_err(failed)?;
    let step = OnlineBackup::new(from, &mut to).and_then(|backup| backup.step(-1)).map_err(failed)?;
    if step != StepResult::Done {
        return Err(StoreError::Busy { file: from_file.to_owned() });
    }
    // One self-contained file, without a log beside it.
    to.pragma_update_and_check(None, "journal_mode", "DELETE", |_| Ok(())).map_err(failed)?;
    check_database(&to, part)?;
    to.close().map_err(|(_, e)| failed(e))
}

fn name_finished(part: &Path, path: &Path) -> Result<Backup, StoreError> {
    let failed = |e| StoreError::file("writing", path, e);
    // Windows syncs only a file that is open for writing.
    let file = File::options().read(true).write(true).open(part).map_err(failed)?;
    file.sync_all().map_err(failed)?;
    let bytes = file.metadata().map_err(failed)?.len();
    drop(file);
    fs::rename(part, path).map_err(failed)?;
    if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        sync_folder(folder)?;
    }
    Ok(Backup { file: path.to_owned(), bytes })
}

fn remove_if_there(path: &Path) -> Result<(), StoreError> {
    match path.exists() {
        true => fs::remove_file(path).map_err(|e| StoreError::file("removing", path, e)),
        false => Ok(()),
    }
}

/// Structure, constraints and references of a whole database.
pub(crate) fn check_database(conn: &Connection, file: &Path) -> Result<(), StoreError> {
    let problems = find_problems(conn).map_err(|e| StoreError::database(file, e))?;
    match problems.is_empty() {
        true => Ok(()),
        false => Err(StoreError::Damaged { file: file.to_owned(), detail: problems.join("; ") }),
    }
}

fn find_problems(conn: &Connection) -> rusqlite::Result<Vec<String>> {
    let mut statement = conn.prepare(&format!("PRAGMA integrity_check({PROBLEMS_SHOWN})"))?;
    let lines: Vec<String> = statement.query_map([], |row| row.get(0))?.collect::<rusqlite::Result<_>>()?;
    let mut problems: Vec<String> = lines.into_iter().filter(|line| line != "ok").collect();
    let mut statement = conn.prepare("PRAGMA foreign_key_check")?;
    let broken = statement.query_map([], |row| {
        Ok(format!("a row of {} names a {} that is not there", row.get::<_, String>(0)?, row.get::<_, String>(2)?))
    })?;
    problems.extend(broken.take(PROBLEMS_SHOWN).collect::<rusqlite::Result<Vec<_>>>()?);
    Ok(problems)
}
