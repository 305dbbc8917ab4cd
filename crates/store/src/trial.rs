//! Trials: their identity and code. What a trial is about stands in its plan.

use rusqlite::{Row, params};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::column;
use crate::moment::moment_text;
use crate::{Moment, Reading, Store, StoreError, Writing};

/// A trial to be entered in the station.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NewTrial {
    /// its identity, from [`new_id`](crate::new_id)
    pub id: Uuid,
    /// the short code that people use; upper and lower case count as the same
    pub code: String,
    /// when it was entered
    pub created_at: Moment,
    /// by whom
    pub by: String,
}

/// A trial of the station.
pub type Trial = NewTrial;

fn read_trial(row: &Row<'_>) -> rusqlite::Result<Trial> {
    Ok(Trial {
        id: column::id(row, "id")?,
        code: row.get("code")?,
        created_at: column::moment(row, "created_at")?,
        by: row.get("by_whom")?,
    })
}

impl Reading<'_> {
    /// All trials, in the order of their codes.
    pub fn trials(&self) -> Result<Vec<Trial>, StoreError> {
        self.rows("SELECT * FROM trial ORDER BY code", [], read_trial)
    }

    /// The trial with this identity.
    pub fn trial(&self, id: Uuid) -> Result<Option<Trial>, StoreError> {
        self.first("SELECT * FROM trial WHERE id = ?", [id.as_bytes()], read_trial)
    }

    /// The trial with this code, whatever its upper and lower case.
    pub fn trial_by_code(&self, code: &str) -> Result<Option<Trial>, StoreError> {
        self.first("SELECT * FROM trial WHERE code = ?", [code], read_trial)
    }

    pub(crate) fn require_trial(&self, id: Uuid) -> Result<(), StoreError> {
        match self.exists("SELECT 1 FROM trial WHERE id = ?", [id.as_bytes()])? {
            true => Ok(()),
            false => Err(StoreError::no_such("trial", id)),
        }
    }
}

impl Writing<'_> {
    /// Enters a trial.
    ///
    /// # Errors
    /// [`StoreError::CodeTaken`], [`StoreError::AlreadyRecorded`], [`StoreError::Invalid`] for an empty code.
    pub fn create_trial(&self, trial: &NewTrial) -> Result<(), StoreError> {
        if trial.code.trim().is_empty() {
            return Err(StoreError::invalid("new trial", "a trial needs a code"));
        }
        if self.trial_by_code(&trial.code)?.is_some() {
            return Err(StoreError::CodeTaken { what: "trial", code: trial.code.clone() });
        }
        if self.trial(trial.id)?.is_some() {
            return Err(StoreError::AlreadyRecorded { what: "trial", id: trial.id });
        }
        self.insert(
            "INSERT INTO trial (id, code, created_at, by_whom) VALUES (?, ?, ?, ?)",
            params![trial.id.as_bytes(), trial.code, moment_text(trial.created_at), trial.by],
        )
    }
}

impl Store {
    /// See [`Reading::trials`].
    pub fn trials(&self) -> Result<Vec<Trial>, StoreError> {
        self.read(|reading| reading.trials())
    }

    /// See [`Reading::trial`].
    pub fn trial(&self, id: Uuid) -> Result<Option<Trial>, StoreError> {
        self.read(|reading| reading.trial(id))
    }

    /// See [`Reading::trial_by_code`].
    pub fn trial_by_code(&self, code: &str) -> Result<Option<Trial>, StoreError> {
        self.read(|reading| reading.trial_by_code(code))
    }

    /// See [`Writing::create_trial`].
    pub fn create_trial(&self, trial: &NewTrial) -> Result<(), StoreError> {
        self.write(|writing| writing.create_trial(trial))
    }
}
