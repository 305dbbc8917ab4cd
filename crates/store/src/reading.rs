//! One consistent look at the station.

use std::path::Path;

use rusqlite::{Connection, OptionalExtension, Params, Row};

use crate::StoreError;

/// A look at the station at one moment: everything read through it belongs together, whatever is written meanwhile.
/// Get one from [`Store::read`](crate::Store::read).
#[derive(Debug)]
pub struct Reading<'c> {
    pub(crate) conn: &'c Connection,
    pub(crate) file: &'c Path,
}

impl Reading<'_> {
    pub(crate) fn rows<T>(
        &self,
        sql: &str,
        params: impl Params,
        read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, StoreError> {
        let collect = || {
            let mut statement = self.conn.prepare_cached(sql)?;
            let rows = statement.query_map(params, read)?;
            rows.collect()
        };
        self.at(collect())
    }

    pub(crate) fn first<T>(
        &self,
        sql: &str,
        params: impl Params,
        read: impl FnOnce(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Option<T>, StoreError> {
        let first = || self.conn.prepare_cached(sql)?.query_row(params, read).optional();
        self.at(first())
    }

    pub(crate) fn exists(&self, sql: &str, params: impl Params) -> Result<bool, StoreError> {
        self.at(self.conn.prepare_cached(sql).and_then(|mut statement| statement.exists(params)))
    }

    pub(crate) fn at<T>(&self, result: rusqlite::Result<T>) -> Result<T, StoreError> {
        result.map_err(|e| StoreError::database(self.file, e))
    }
}
