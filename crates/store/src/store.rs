//! An open station.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use rusqlite::{Connection, TransactionBehavior};

use crate::connection::{Readers, open_writer};
use crate::folder::{StationLock, sync_folder};
use crate::{Reading, SCHEMA_VERSION, StationFolder, StoreError, Writing, schema};

/// An open station. Share it between threads; reads run beside each other and beside the one writer.
///
/// Every change is one transaction that is on the disk when the call returns. Calls that belong together go through
/// [`Store::write`] or [`Store::read`].
#[derive(Debug)]
pub struct Store {
    // Dropped in this order: readers, writer, and only then the lock.
    readers: Readers,
    writer: Option<Mutex<Connection>>,
    folder: StationFolder,
    _lock: Option<StationLock>,
}

impl Store {
    /// Makes a new station in `folder`, which is empty or does not exist yet, and opens it.
    ///
    /// A making that was interrupted is taken up again. The folder becomes a station at the last step.
    ///
    /// # Errors
    /// [`StoreError::AlreadyStation`], [`StoreError::FolderNotEmpty`], [`StoreError::InUse`],
    /// [`StoreError::NotWritable`], [`StoreError::DiskFull`].
    pub fn create(folder: impl AsRef<Path>) -> Result<Self, StoreError> {
        let folder = StationFolder::at(folder.as_ref());
        folder.prepare()?;
        let lock = folder.lock()?;
        if folder.is_station() {
            // Another process made it between our look and our lock.
            return Err(StoreError::AlreadyStation { folder: folder.path().to_owned() });
        }
        make_database(&folder)?;
        Self::open_locked(folder, lock)
    }

    /// Opens the station in `folder` for reading and writing, and keeps every other program from doing so.
    ///
    /// A database of an older version is brought up to date, after a backup named for its version.
    ///
    /// # Errors
    /// [`StoreError::NotAStation`], [`StoreError::InUse`], [`StoreError::Newer`] (the file is left untouched),
    /// [`StoreError::NotADatabase`], [`StoreError::ForeignDatabase`], [`StoreError::Damaged`],
    /// [`StoreError::NotWritable`].
    pub fn open(folder: impl AsRef<Path>) -> Result<Self, StoreError> {
        let folder = StationFolder::at(folder.as_ref());
        folder.require_station()?;
        let lock = folder.lock()?;
        Self::open_locked(folder, lock)
    }

    /// Opens the station in `folder` for reading, also while another process has it open for writing.
    ///
    /// # Errors
    /// As [`Store::open`], and [`StoreError::Older`] for a database that was not yet brought up to date.
    pub fn open_read_only(folder: impl AsRef<Path>) -> Result<Self, StoreError> {
        let folder = StationFolder::at(folder.as_ref());
        folder.require_station()?;
        let file = folder.database();
        let found = schema::inspect(&file)?;
        if found < SCHEMA_VERSION {
            return Err(StoreError::Older { file, found, known: SCHEMA_VERSION });
        }
        let store = Self { readers: Readers::of(file), writer: None, folder, _lock: None };
        // Only a real look at a table tells whether the database can be read here.
        store.read(|reading| reading.exists("SELECT 1 FROM trial", []))?;
        Ok(store)
    }

    fn open_locked(folder: StationFolder, lock: StationLock) -> Result<Self, StoreError> {
        let file = folder.database();
        let found = schema::inspect(&file)?;
        let mut writer = open_writer(&file)?;
        if found < SCHEMA_VERSION {
            let keep = folder.backups().join(format!("before-version-{SCHEMA_VERSION}-from-{found}.db"));
            crate::backup::replace_backup(&writer, &keep)?;
            schema::migrate(&mut writer).map_err(|e| StoreError::database(&file, e))?;
            tracing::info!(from = found, to = SCHEMA_VERSION, backup = %keep.display(), "database brought up to date");
        }
        Ok(Self { readers: Readers::of(file), writer: Some(Mutex::new(writer)), folder, _lock: Some(lock) })
    }

    /// Where the parts of the station lie.
    pub fn folder(&self) -> &StationFolder {
        &self.folder
    }

    pub(crate) fn file(&self) -> PathBuf {
        self.folder.database()
    }

    /// Whether this store may write.
    pub fn is_read_only(&self) -> bool {
        self.writer.is_none()
    }

    /// Reads several things that belong together, as of one moment.
    ///
    /// # Errors
    /// What `work` returns, or why the database could not be read.
    pub fn read<T, E: From<StoreError>>(&self, work: impl FnOnce(&Reading<'_>) -> Result<T, E>) -> Result<T, E> {
        let file = self.file();
        self.readers.with(|conn| {
            // Ended by its drop: there is nothing to commit.
            let snapshot = conn.unchecked_transaction().map_err(|e| StoreError::database(&file, e))?;
            work(&Reading { conn: &snapshot, file: &file })
        })
    }

    /// Makes one change of several steps, kept whole or not at all. When this returns `Ok`, it is on the disk.
    ///
    /// Do not call a writing function of the same [`Store`] inside `work`: it would wait for itself. Use the functions
    /// of [`Writing`].
    ///
    /// # Errors
    /// What `work` returns (then nothing is kept), or why the database could not be written.
    pub fn write<T, E: From<StoreError>>(&self, work: impl FnOnce(&Writing<'_>) -> Result<T, E>) -> Result<T, E> {
        let file = self.file();
        let failed = |e| StoreError::database(&file, e);
        let mut conn = self.lock_writer()?;
        let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate).map_err(failed)?;
        let writing = Writing::through(&tx, &file);
        let answer = work(&writing)?;
        if writing.has_failed() {
            return Err(StoreError::HalfDone.into());
        }
        tx.commit().map_err(failed)?;
        Ok(answer)
    }

    fn lock_writer(&self) -> Result<std::sync::MutexGuard<'_, Connection>, StoreError> {
        let writer = self.writer.as_ref();
        let writer = writer.ok_or_else(|| StoreError::OpenedReadOnly { folder: self.folder.path().to_owned() })?;
        // A panic inside a change has rolled it back already, so the connection is good.
        Ok(writer.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// Keeps the database from growing beyond about `bytes`, as if the disk ended there (for a small card, and to
    /// rehearse a full disk). Holds until the store is closed.
    ///
    /// # Errors
    /// [`StoreError::OpenedReadOnly`], or a failure of the database.
    pub fn limit_size(&self, bytes: u64) -> Result<(), StoreError> {
        let file = self.file();
        let conn = self.lock_writer()?;
        let limit = || {
            let page: i64 = conn.pragma_query_value(None, "page_size", |row| row.get(0))?;
            let pages = (crate::column::integer(bytes) / page).max(1);
            conn.pragma_update_and_check(None, "max_page_count", pages, |_| Ok(()))
        };
        limit().map_err(|e| StoreError::database(&file, e))
    }

    /// Checks the whole database: its structure, its constraints and its references. Takes about as long as reading it.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] with the first things found.
    pub fn check(&self) -> Result<(), StoreError> {
        let file = self.file();
        self.readers.with(|conn| crate::backup::check_database(conn, &file))
    }
}

/// Builds the database beside its final name, so that an interruption leaves no half-made station.
fn make_database(folder: &StationFolder) -> Result<(), StoreError> {
    folder.remove_unfinished()?;
    let part = folder.unfinished_database();
    let mut conn = open_writer(&part)?;
    schema::migrate(&mut conn).map_err(|e| StoreError::database(&part, e))?;
    // Closing moves the log into the file and removes it.
    conn.close().map_err(|(_, e)| StoreError::database(&part, e))?;
    fs::rename(&part, folder.database()).map_err(|e| StoreError::file("naming", &part, e))?;
    sync_folder(folder.path())
}
