//! The folder of a station: its names, its making, and the lock that keeps a second program out.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{Read, Seek, Write};
use std::path::{Path, PathBuf};

use crate::StoreError;

const DATABASE: &str = "station.db";
/// The database of a station that is just being made; it gets its name when it is whole.
const DATABASE_PART: &str = "station.db.part";
const LOCK: &str = "lock";
const FOLDERS: [&str; 3] = ["photos", "publications", "backups"];

/// Where the parts of a station lie.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StationFolder(PathBuf);

impl StationFolder {
    /// The station at `folder`, whether it exists or not.
    pub fn at(folder: impl Into<PathBuf>) -> Self {
        Self(folder.into())
    }

    /// The folder itself.
    pub fn path(&self) -> &Path {
        &self.0
    }

    /// The database file.
    pub fn database(&self) -> PathBuf {
        self.0.join(DATABASE)
    }

    /// The folder of photos.
    pub fn photos(&self) -> PathBuf {
        self.0.join("photos")
    }

    /// The folder of publications.
    pub fn publications(&self) -> PathBuf {
        self.0.join("publications")
    }

    /// The folder of backups.
    pub fn backups(&self) -> PathBuf {
        self.0.join("backups")
    }

    pub(crate) fn unfinished_database(&self) -> PathBuf {
        self.0.join(DATABASE_PART)
    }

    /// Whether a station is here.
    pub fn is_station(&self) -> bool {
        self.database().is_file()
    }

    pub(crate) fn require_station(&self) -> Result<(), StoreError> {
        match self.is_station() {
            true => Ok(()),
            false => Err(StoreError::NotAStation { folder: self.0.clone() }),
        }
    }

    /// Makes the folder ready for a new station: refuses a station, and a folder that holds anything else.
    pub(crate) fn prepare(&self) -> Result<(), StoreError> {
        if self.database().exists() {
            return Err(StoreError::AlreadyStation { folder: self.0.clone() });
        }
        fs::create_dir_all(&self.0).map_err(|e| StoreError::file("making", &self.0, e))?;
        if let Some(example) = self.foreign_name()? {
            return Err(StoreError::FolderNotEmpty { folder: self.0.clone(), example });
        }
        for name in FOLDERS {
            let path = self.0.join(name);
            fs::create_dir_all(&path).map_err(|e| StoreError::file("making", &path, e))?;
        }
        Ok(())
    }

    /// A name in the folder that does not come from an earlier, interrupted making of a station.
    fn foreign_name(&self) -> Result<Option<String>, StoreError> {
        let failed = |e| StoreError::file("reading", &self.0, e);
        for item in fs::read_dir(&self.0).map_err(failed)? {
            let item = item.map_err(failed)?;
            let name = item.file_name().to_string_lossy().into_owned();
            let empty_folder = FOLDERS.contains(&name.as_str())
                && fs::read_dir(item.path()).is_ok_and(|mut content| content.next().is_none());
            if !(name == LOCK || name.starts_with(DATABASE_PART) || empty_folder) {
                return Ok(Some(name));
            }
        }
        Ok(None)
    }

    /// Removes what an interrupted making of a station left behind.
    pub(crate) fn remove_unfinished(&self) -> Result<(), StoreError> {
        for suffix in ["", "-wal", "-shm", "-journal"] {
            let path = self.0.join(format!("{DATABASE_PART}{suffix}"));
            if path.exists() {
                fs::remove_file(&path).map_err(|e| StoreError::file("removing", &path, e))?;
            }
        }
        Ok(())
    }

    /// Takes the station for this process until the returned lock is dropped. The operating system lets go of it
    /// when the process ends, however it ends.
    pub(crate) fn lock(&self) -> Result<StationLock, StoreError> {
        let path = self.0.join(LOCK);
        let failed = |e| StoreError::file("locking", &path, e);
        let mut file =
            OpenOptions::new().read(true).write(true).create(true).truncate(false).open(&path).map_err(failed)?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                return Err(StoreError::InUse { folder: self.0.clone(), pid: read_pid(&mut file) });
            }
            Err(TryLockError::Error(e)) => return Err(failed(e)),
        }
        // The number only helps a person to find the other program, so failing to write it (a full disk) is no reason
        // to keep that person out.
        if let Err(error) = write_pid(&mut file) {
            tracing::warn!(%error, "the process number could not be written into the station's lock");
        }
        Ok(StationLock { file })
    }
}

/// The lock of a station, held as long as this value lives.
#[derive(Debug)]
pub(crate) struct StationLock {
    file: File,
}

impl Drop for StationLock {
    fn drop(&mut self) {
        // A program that this process is starting just now may hold a copy of the file for a moment. Unlocking lets go
        // for all copies; closing would only do so for ours. If it fails, the lock ends with the process.
        let _ = self.file.unlock();
    }
}

fn write_pid(file: &mut File) -> std::io::Result<()> {
    file.set_len(0)?;
    file.rewind()?;
    writeln!(file, "{}", std::process::id())
}

fn read_pid(file: &mut File) -> Option<u32> {
    let mut text = String::new();
    file.take(32).read_to_string(&mut text).ok()?;
    text.trim().parse().ok()
}

/// Makes sure that a renamed or new name in `folder` survives a power cut.
pub(crate) fn sync_folder(folder: &Path) -> Result<(), StoreError> {
    // Only Unix lets a folder be opened and synced; elsewhere the file system journals names by itself.
    if cfg!(unix) {
        File::open(folder).and_then(|file| file.sync_all()).map_err(|e| StoreError::file("syncing", folder, e))?;
    }
    Ok(())
}
