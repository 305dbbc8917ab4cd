//! What was published: reports, labels, sheets, data packages, each with what it was made from.

use rusqlite::{Row, params};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use uuid::Uuid;

use crate::moment::moment_text;
use crate::{Moment, Reading, Sha256, Store, StoreError, Writing, column};

/// A publication to be recorded; its file lies in the station's `publications` folder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NewPublication {
    /// its identity, from [`new_id`](crate::new_id)
    pub id: Uuid,
    /// the trial, when it is about one
    pub trial_id: Option<Uuid>,
    /// what it is, as in "report" or "labels"
    pub kind: String,
    /// the name of its file
    pub file: String,
    /// the fingerprint of its file
    pub sha256: Sha256,
    /// when it was made
    pub made_at: Moment,
    /// by whom
    pub by: String,
    /// what it was made from: versions of plan and layout, moment of the observations, version of the program
    pub inputs: Value,
}

/// A publication of the station.
pub type Publication = NewPublication;

fn read_publication(row: &Row<'_>) -> rusqlite::Result<Publication> {
    Ok(Publication {
        id: column::id(row, "id")?,
        trial_id: column::maybe_id(row, "trial_id")?,
        kind: row.get("kind")?,
        file: row.get("file")?,
        sha256: column::parsed(row, "sha256")?,
        made_at: column::moment(row, "made_at")?,
        by: row.get("by_whom")?,
        inputs: column::json(row, "inputs")?,
    })
}

impl Reading<'_> {
    /// The publications of a trial, oldest first.
    pub fn publications(&self, trial_id: Uuid) -> Result<Vec<Publication>, StoreError> {
        self.rows(
            "SELECT * FROM publication WHERE trial_id = ? ORDER BY rowid",
            [trial_id.as_bytes()],
            read_publication,
        )
    }

    /// The publication with this identity.
    pub fn publication(&self, id: Uuid) -> Result<Option<Publication>, StoreError> {
        self.first("SELECT * FROM publication WHERE id = ?", [id.as_bytes()], read_publication)
    }
}

impl Writing<'_> {
    /// Records a publication.
    ///
    /// # Errors
    /// [`StoreError::AlreadyRecorded`], [`StoreError::NoSuch`] trial.
    pub fn append_publication(&self, publication: &NewPublication) -> Result<(), StoreError> {
        if self.publication(publication.id)?.is_some() {
            return Err(StoreError::AlreadyRecorded { what: "publication", id: publication.id });
        }
        if let Some(trial_id) = publication.trial_id {
            self.require_trial(trial_id)?;
        }
        self.insert(
            "INSERT INTO publication (id, trial_id, kind, file, sha256, made_at, by_whom, inputs)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            params![
                publication.id.as_bytes(),
                publication.trial_id.as_ref().map(Uuid::as_bytes),
                publication.kind,
                publication.file,
                publication.sha256.to_string(),
                moment_text(publication.made_at),
                publication.by,
                publication.inputs.to_string()
            ],
        )
    }
}

impl Store {
    /// See [`Reading::publications`].
    pub fn publications(&self, trial_id: Uuid) -> Result<Vec<Publication>, StoreError> {
        self.read(|reading| reading.publications(trial_id))
    }

    /// See [`Reading::publication`].
    pub fn publication(&self, id: Uuid) -> Result<Option<Publication>, StoreError> {
        self.read(|reading| reading.publication(id))
    }

    /// See [`Writing::append_publication`].
    pub fn append_publication(&self, publication: &NewPublication) -> Result<(), StoreError> {
        self.write(|writing| writing.append_publication(publication))
    }
}
