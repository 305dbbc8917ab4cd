//! Lots: one bag or batch each, with every version of its papers.

use rusqlite::{Row, params};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use uuid::Uuid;

use crate::column;
use crate::moment::moment_text;
use crate::{Moment, NewVersion, Reading, Store, StoreError, Writing};

/// A lot to be entered in the station.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NewLot {
    /// its identity, from [`new_id`](crate::new_id)
    pub id: Uuid,
    /// the code on the bag; upper and lower case count as the same
    pub code: String,
    /// when it was entered
    pub created_at: Moment,
    /// by whom
    pub by: String,
}

/// A lot of the station.
pub type Lot = NewLot;

/// One version of a lot's papers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LotVersion {
    /// the lot
    pub lot_id: Uuid,
    /// from 1
    pub version: u32,
    /// its papers
    pub body: Value,
    /// when it was recorded
    pub recorded_at: Moment,
    /// by whom
    pub by: String,
    /// why it was changed
    pub reason: Option<String>,
}

fn read_lot(row: &Row<'_>) -> rusqlite::Result<Lot> {
    Ok(Lot {
        id: column::id(row, "id")?,
        code: row.get("code")?,
        created_at: column::moment(row, "created_at")?,
        by: row.get("by_whom")?,
    })
}

fn read_version(row: &Row<'_>) -> rusqlite::Result<LotVersion> {
    Ok(LotVersion {
        lot_id: column::id(row, "lot_id")?,
        version: row.get("version")?,
        body: column::json(row, "body")?,
        recorded_at: column::moment(row, "recorded_at")?,
        by: row.get("by_whom")?,
        reason: row.get("reason")?,
    })
}

impl Reading<'_> {
    /// All lots, in the order of their codes.
    pub fn lots(&self) -> Result<Vec<Lot>, StoreError> {
        self.rows("SELECT * FROM lot ORDER BY code", [], read_lot)
    }

    /// The lot with this identity.
    pub fn lot(&self, id: Uuid) -> Result<Option<Lot>, StoreError> {
        self.first("SELECT * FROM lot WHERE id = ?", [id.as_bytes()], read_lot)
    }

    /// The lot with this code, whatever its upper and lower case.
    pub fn lot_by_code(&self, code: &str) -> Result<Option<Lot>, StoreError> {
        self.first("SELECT * FROM lot WHERE code = ?", [code], read_lot)
    }

    /// The latest papers of a lot.
    pub fn latest_lot_version(&self, lot_id: Uuid) -> Result<Option<LotVersion>, StoreError> {
        let sql = "SELECT * FROM lot_version WHERE lot_id = ? ORDER BY version DESC LIMIT 1";
        self.first(sql, [lot_id.as_bytes()], read_version)
    }

    /// Every version of a lot's papers, oldest first.
    pub fn lot_versions(&self, lot_id: Uuid) -> Result<Vec<LotVersion>, StoreError> {
        self.rows("SELECT * FROM lot_version WHERE lot_id = ? ORDER BY version", [lot_id.as_bytes()], read_version)
    }
}

impl Writing<'_> {
    /// Enters a lot.
    ///
    /// # Errors
    /// [`StoreError::CodeTaken`], [`StoreError::AlreadyRecorded`], [`StoreError::Invalid`] for an empty code.
    pub fn create_lot(&self, lot: &NewLot) -> Result<(), StoreError> {
        if lot.code.trim().is_empty() {
            return Err(StoreError::invalid("new lot", "a lot needs a code"));
        }
        if self.lot_by_code(&lot.code)?.is_some() {
            return Err(StoreError::CodeTaken { what: "lot", code: lot.code.clone() });
        }
        if self.lot(lot.id)?.is_some() {
            return Err(StoreError::AlreadyRecorded { what: "lot", id: lot.id });
        }
        self.insert(
            "INSERT INTO lot (id, code, created_at, by_whom) VALUES (?, ?, ?, ?)",
            params![lot.id.as_bytes(), lot.code, moment_text(lot.created_at), lot.by],
        )
    }

    /// Records a new version of a lot's papers and returns its number.
    ///
    /// - `expected_version`: the latest version that the person saw, 0 when there was none
    ///
    /// # Errors
    /// [`StoreError::Stale`] when another version was recorded meanwhile, [`StoreError::NoSuch`] lot.
    pub fn append_lot_version(
        &self,
        lot_id: Uuid,
        expected_version: u32,
        papers: &NewVersion,
    ) -> Result<u32, StoreError> {
        if self.lot(lot_id)?.is_none() {
            return Err(StoreError::no_such("lot", lot_id));
        }
        let found = self.latest_lot_version(lot_id)?.map_or(0, |latest| latest.version);
        if found != expected_version {
            return Err(StoreError::Stale { what: "lot", expected: expected_version, found });
        }
        let version = found + 1;
        self.insert(
            "INSERT INTO lot_version (lot_id, version, body, recorded_at, by_whom, reason) VALUES (?, ?, ?, ?, ?, ?)",
            params![
                lot_id.as_bytes(),
                version,
                papers.body.to_string(),
                moment_text(papers.recorded_at),
                papers.by,
                papers.reason
            ],
        )?;
        Ok(version)
    }
}

impl Store {
    /// See [`Reading::lots`].
    pub fn lots(&self) -> Result<Vec<Lot>, StoreError> {
        self.read(|reading| reading.lots())
    }

    /// See [`Reading::lot`].
    pub fn lot(&self, id: Uuid) -> Result<Option<Lot>, StoreError> {
        self.read(|reading| reading.lot(id))
    }

    /// See [`Reading::lot_by_code`].
    pub fn lot_by_code(&self, code: &str) -> Result<Option<Lot>, StoreError> {
        self.read(|reading| reading.lot_by_code(code))
    }

    /// See [`Reading::latest_lot_version`].
    pub fn latest_lot_version(&self, lot_id: Uuid) -> Result<Option<LotVersion>, StoreError> {
        self.read(|reading| reading.latest_lot_version(lot_id))
    }

    /// See [`Reading::lot_versions`].
    pub fn lot_versions(&self, lot_id: Uuid) -> Result<Vec<LotVersion>, StoreError> {
        self.read(|reading| reading.lot_versions(lot_id))
    }

    /// See [`Writing::create_lot`].
    pub fn create_lot(&self, lot: &NewLot) -> Result<(), StoreError> {
        self.write(|writing| writing.create_lot(lot))
    }

    /// See [`Writing::append_lot_version`].
    pub fn append_lot_version(
        &self,
        lot_id: Uuid,
        expected_version: u32,
        papers: &NewVersion,
    ) -> Result<u32, StoreError> {
        self.write(|writing| writing.append_lot_version(lot_id, expected_version, papers))
    }
}
