//! One change to the station, kept whole or not at all.

use std::cell::Cell;
use std::ops::Deref;
use std::path::Path;

use rusqlite::{Connection, Params};

use crate::{Reading, StoreError};

/// A change to the station in progress. Several steps belong together; what was written is visible to what is read
/// through it. Get one from [`Store::write`](crate::Store::write).
#[derive(Debug)]
pub struct Writing<'c> {
    reading: Reading<'c>,
    failed: Cell<bool>,
}

impl<'c> Writing<'c> {
    pub(crate) fn through(conn: &'c Connection, file: &'c Path) -> Self {
        Self { reading: Reading { conn, file }, failed: Cell::new(false) }
    }

    /// Whether a step failed after it may have written something: then the change must not be kept.
    pub(crate) fn has_failed(&self) -> bool {
        self.failed.get()
    }

    pub(crate) fn insert(&self, sql: &str, params: impl Params) -> Result<(), StoreError> {
        self.whole(|| {
            self.at(self.conn.prepare_cached(sql).and_then(|mut statement| statement.execute(params)))?;
            Ok(())
        })
    }

    /// Runs steps that must all succeed: when one fails, the whole change is lost even if the caller passes over it.
    pub(crate) fn whole<T>(&self, steps: impl FnOnce() -> Result<T, StoreError>) -> Result<T, StoreError> {
        if self.failed.get() {
            return Err(StoreError::HalfDone);
        }
        steps().inspect_err(|_| self.failed.set(true))
    }
}

impl<'c> Deref for Writing<'c> {
    type Target = Reading<'c>;

    fn deref(&self) -> &Self::Target {
        &self.reading
    }
}
