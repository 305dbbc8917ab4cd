//! What is told about the station as a whole (its name, units, defaults), each with its history.

use rusqlite::{Row, params};
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::column;
use crate::moment::moment_text;
use crate::{Moment, Reading, Store, StoreError, Writing};

/// One value of one key, as it was told once.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Info {
    /// what it is about
    pub key: String,
    /// the value
    pub value: Value,
    /// when it was told
    pub recorded_at: Moment,
    /// by whom
    pub by: String,
}

fn read_info(row: &Row<'_>) -> rusqlite::Result<Info> {
    Ok(Info {
        key: row.get("key")?,
        value: column::json(row, "value")?,
        recorded_at: column::moment(row, "recorded_at")?,
        by: row.get("by_whom")?,
    })
}

impl Reading<'_> {
    /// The latest value of `key`.
    pub fn info(&self, key: &str) -> Result<Option<Info>, StoreError> {
        self.first("SELECT * FROM station_info WHERE key = ? ORDER BY seq DESC LIMIT 1", [key], read_info)
    }

    /// Every value that `key` has had, oldest first.
    pub fn info_history(&self, key: &str) -> Result<Vec<Info>, StoreError> {
        self.rows("SELECT * FROM station_info WHERE key = ? ORDER BY seq", [key], read_info)
    }

    /// The latest value of every key, by key.
    pub fn all_info(&self) -> Result<Vec<Info>, StoreError> {
        let sql =
            "SELECT * FROM station_info WHERE seq IN (SELECT max(seq) FROM station_info GROUP BY key) ORDER BY key";
        self.rows(sql, [], read_info)
    }
}

impl Writing<'_> {
    /// Records a new value of `key`; the earlier ones stay in its history.
    pub fn set_info(&self, info: &Info) -> Result<(), StoreError> {
        self.insert(
            "INSERT INTO station_info (key, value, recorded_at, by_whom) VALUES (?, ?, ?, ?)",
            params![info.key, info.value.to_string(), moment_text(info.recorded_at), info.by],
        )
    }
}

impl Store {
    /// See [`Reading::info`].
    pub fn info(&self, key: &str) -> Result<Option<Info>, StoreError> {
        self.read(|reading| reading.info(key))
    }

    /// See [`Reading::info_history`].
    pub fn info_history(&self, key: &str) -> Result<Vec<Info>, StoreError> {
        self.read(|reading| reading.info_history(key))
    }

    /// See [`Reading::all_info`].
    pub fn all_info(&self) -> Result<Vec<Info>, StoreError> {
        self.read(|reading| reading.all_info())
    }

    /// See [`Writing::set_info`].
    pub fn set_info(&self, info: &Info) -> Result<(), StoreError> {
        self.write(|writing| writing.set_info(info))
    }
}
