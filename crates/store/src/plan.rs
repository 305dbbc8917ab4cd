//! The versions of a trial's plan.

use rusqlite::{Row, params};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use uuid::Uuid;

use crate::column;
use crate::moment::moment_text;
use crate::{Moment, NewVersion, Reading, Store, StoreError, Writing};

/// One version of a trial's plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// the trial
    pub trial_id: Uuid,
    /// from 1
    pub version: u32,
    /// the whole plan
    pub body: Value,
    /// when it was recorded
    pub recorded_at: Moment,
    /// by whom
    pub by: String,
    /// why it was changed
    pub reason: Option<String>,
}

fn read_plan(row: &Row<'_>) -> rusqlite::Result<Plan> {
    Ok(Plan {
        trial_id: column::id(row, "trial_id")?,
        version: row.get("version")?,
        body: column::json(row, "body")?,
        recorded_at: column::moment(row, "recorded_at")?,
        by: row.get("by_whom")?,
        reason: row.get("reason")?,
    })
}

impl Reading<'_> {
    /// The latest plan of a trial.
    pub fn latest_plan(&self, trial_id: Uuid) -> Result<Option<Plan>, StoreError> {
        let sql = "SELECT * FROM plan WHERE trial_id = ? ORDER BY version DESC LIMIT 1";
        self.first(sql, [trial_id.as_bytes()], read_plan)
    }

    /// The latest plan that was recorded at `as_of` or before.
    pub fn plan_as_of(&self, trial_id: Uuid, as_of: Moment) -> Result<Option<Plan>, StoreError> {
        let sql = "SELECT * FROM plan WHERE trial_id = ? AND recorded_at <= ? ORDER BY version DESC LIMIT 1";
        self.first(sql, params![trial_id.as_bytes(), moment_text(as_of)], read_plan)
    }

    /// One version of a trial's plan.
    pub fn plan(&self, trial_id: Uuid, version: u32) -> Result<Option<Plan>, StoreError> {
        let sql = "SELECT * FROM plan WHERE trial_id = ? AND version = ?";
        self.first(sql, params![trial_id.as_bytes(), version], read_plan)
    }

    /// Every version of a trial's plan, oldest first.
    pub fn plan_versions(&self, trial_id: Uuid) -> Result<Vec<Plan>, StoreError> {
        self.rows("SELECT * FROM plan WHERE trial_id = ? ORDER BY version", [trial_id.as_bytes()], read_plan)
    }
}

impl Writing<'_> {
    /// Records a new version of a trial's plan and returns its number.
    ///
    /// - `expected_version`: the latest version that the person saw, 0 when there was none
    ///
    /// # Errors
    /// [`StoreError::Stale`] when another version was recorded meanwhile, [`StoreError::NoSuch`] trial.
    pub fn append_plan(&self, trial_id: Uuid, expected_version: u32, plan: &NewVersion) -> Result<u32, StoreError> {
        self.require_trial(trial_id)?;
        let found = self.latest_plan(trial_id)?.map_or(0, |plan| plan.version);
        if found != expected_version {
            return Err(StoreError::Stale { what: "plan", expected: expected_version, found });
        }
        let version = found + 1;
        self.insert(
            "INSERT INTO plan (trial_id, version, body, recorded_at, by_whom, reason) VALUES (?, ?, ?, ?, ?, ?)",
            params![
                trial_id.as_bytes(),
                version,
                plan.body.to_string(),
                moment_text(plan.recorded_at),
                plan.by,
                plan.reason
            ],
        )?;
        Ok(version)
    }
}

impl Store {
    /// See [`Reading::latest_plan`].
    pub fn latest_plan(&self, trial_id: Uuid) -> Result<Option<Plan>, StoreError> {
        self.read(|reading| reading.latest_plan(trial_id))
    }

    /// See [`Reading::plan_as_of`].
    pub fn plan_as_of(&self, trial_id: Uuid, as_of: Moment) -> Result<Option<Plan>, StoreError> {
        self.read(|reading| reading.plan_as_of(trial_id, as_of))
    }

    /// See [`Reading::plan`].
    pub fn plan(&self, trial_id: Uuid, version: u32) -> Result<Option<Plan>, StoreError> {
        self.read(|reading| reading.plan(trial_id, version))
    }

    /// See [`Reading::plan_versions`].
    pub fn plan_versions(&self, trial_id: Uuid) -> Result<Vec<Plan>, StoreError> {
        self.read(|reading| reading.plan_versions(trial_id))
    }

    /// See [`Writing::append_plan`].
    pub fn append_plan(&self, trial_id: Uuid, expected_version: u32, plan: &NewVersion) -> Result<u32, StoreError> {
        self.write(|writing| writing.append_plan(trial_id, expected_version, plan))
    }
}
