//! Keeping a station safe: checking its files, and backing its records up.

use std::fs;
use std::path::Path;

use guardrow_store::Sha256;

use crate::{Remark, Station, StationError, Weight};

impl Station {
    /// Checks the records as a whole, and every document that was made against its file.
    ///
    /// Returns a remark for each document whose file is gone or was changed; that is no damage to the records.
    ///
    /// # Errors
    /// [`crate::ErrorKind::Damaged`] when the records themselves are damaged.
    pub fn check(&self) -> Result<Vec<Remark>, StationError> {
        self.store.check()?;
        let mut remarks = Vec::new();
        for trial in self.store.trials()? {
            // A document may be made several times under one name: the file is the latest one.
            let mut made = self.store.publications(trial.id)?;
            made.reverse();
            let mut looked_at: Vec<&str> = Vec::new();
            for publication in &made {
                if looked_at.contains(&publication.file.as_str()) {
                    continue;
                }
                looked_at.push(&publication.file);
                remarks.extend(self.file_of(&publication.file, publication.sha256));
            }
        }
        Ok(remarks)
    }

    /// Copies all records into one new file and checks the copy; returns its size in bytes.
    ///
    /// # Errors
    /// When the file exists, cannot be written, or the copy does not pass its check.
    pub fn back_up(&self, file: &Path) -> Result<u64, StationError> {
        Ok(self.store.backup_to(file)?.bytes)
    }

    fn file_of(&self, file: &str, made: Sha256) -> Option<Remark> {
        let remark = |what: &str| Remark {
            weight: Weight::Warn,
            place: format!("publications/{file}"),
            what: what.to_owned(),
            try_this: "make the document again; the records that it was made from are kept".to_owned(),
        };
        match fs::read(self.store.folder().publications().join(file)) {
            Err(_) => Some(remark("the file is gone or cannot be read")),
            Ok(bytes) if Sha256::of(&bytes) != made => Some(remark("the file was changed after it was made")),
            Ok(_) => None,
        }
    }
}
