//! The files that were taken in.

use rusqlite::{Row, params};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::moment::moment_text;
use crate::{Moment, Reading, Sha256, Store, StoreError, Writing, column};

/// A file to be taken in together with the entries that were read from it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NewIntake {
    /// its identity, from [`new_id`](crate::new_id)
    pub id: Uuid,
    /// the trial that it belongs to
    pub trial_id: Option<Uuid>,
    /// the name of the file
    pub file_name: String,
    /// the fingerprint of the raw file
    pub sha256: Sha256,
    /// the size of the raw file
    pub bytes: u64,
    /// rows that were read from it
    pub rows: u32,
    /// when a person accepted it
    pub accepted_at: Moment,
    /// who did
    pub by: String,
    /// why the same file is taken in a second time; without it, the second time is refused
    pub repeat_reason: Option<String>,
}

/// A file that was taken in.
pub type Intake = NewIntake;

fn read_intake(row: &Row<'_>) -> rusqlite::Result<Intake> {
    Ok(Intake {
        id: column::id(row, "id")?,
        trial_id: column::maybe_id(row, "trial_id")?,
        file_name: row.get("file_name")?,
        sha256: column::parsed(row, "sha256")?,
        bytes: row.get::<_, i64>("bytes")?.unsigned_abs(),
        rows: row.get("rows")?,
        accepted_at: column::moment(row, "accepted_at")?,
        by: row.get("by_whom")?,
        repeat_reason: row.get("repeat_reason")?,
    })
}

impl Reading<'_> {
    /// The intake with this identity.
    pub fn intake(&self, id: Uuid) -> Result<Option<Intake>, StoreError> {
        self.first("SELECT * FROM intake WHERE id = ?", [id.as_bytes()], read_intake)
    }

    /// Every time that a file with this content was taken in, oldest first, under whatever name and for whatever trial.
    pub fn find_intake_by_hash(&self, sha256: Sha256) -> Result<Vec<Intake>, StoreError> {
        self.rows("SELECT * FROM intake WHERE sha256 = ? ORDER BY rowid", [sha256.to_string()], read_intake)
    }

    /// The files that were taken in for a trial, oldest first.
    pub fn intakes(&self, trial_id: Uuid) -> Result<Vec<Intake>, StoreError> {
        self.rows("SELECT * FROM intake WHERE trial_id = ? ORDER BY rowid", [trial_id.as_bytes()], read_intake)
    }

    fn refuse_same_file(&self, intake: &NewIntake) -> Result<(), StoreError> {
        if intake.repeat_reason.is_some() {
            return Ok(());
        }
        let earlier = self.find_intake_by_hash(intake.sha256)?;
        match earlier.into_iter().find(|earlier| earlier.trial_id == intake.trial_id) {
            None => Ok(()),
            Some(earlier) => Err(StoreError::SameFileAgain {
                file_name: intake.file_name.clone(),
                earlier_name: earlier.file_name,
                by: earlier.by,
                accepted_at: earlier.accepted_at,
            }),
        }
    }
}

impl Writing<'_> {
    /// Records that a file was taken in.
    pub(crate) fn append_intake(&self, intake: &NewIntake) -> Result<(), StoreError> {
        if self.intake(intake.id)?.is_some() {
            return Err(StoreError::AlreadyRecorded { what: "intake", id: intake.id });
        }
        if let Some(trial_id) = intake.trial_id {
            self.require_trial(trial_id)?;
        }
        self.refuse_same_file(intake)?;
        self.insert(
            "INSERT INTO intake (id, trial_id, file_name, sha256, bytes, rows, accepted_at, by_whom, repeat_reason)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            params![
                intake.id.as_bytes(),
                intake.trial_id.as_ref().map(Uuid::as_bytes),
                intake.file_name,
                intake.sha256.to_string(),
                column::integer(intake.bytes),
                intake.rows,
                moment_text(intake.accepted_at),
                intake.by,
                intake.repeat_reason
            ],
        )
    }
}

impl Store {
    /// See [`Reading::intake`].
    pub fn intake(&self, id: Uuid) -> Result<Option<Intake>, StoreError> {
        self.read(|reading| reading.intake(id))
    }

    /// See [`Reading::find_intake_by_hash`].
    pub fn find_intake_by_hash(&self, sha256: Sha256) -> Result<Vec<Intake>, StoreError> {
        self.read(|reading| reading.find_intake_by_hash(sha256))
    }

    /// See [`Reading::intakes`].
    pub fn intakes(&self, trial_id: Uuid) -> Result<Vec<Intake>, StoreError> {
        self.read(|reading| reading.intakes(trial_id))
    }
}
