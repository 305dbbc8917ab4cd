//! Appending to the journal.

use std::collections::HashSet;

use rusqlite::{CachedStatement, params};
use uuid::Uuid;

use crate::moment::moment_text;
use crate::{EntryPlace, NewEntry, NewIntake, Store, StoreError, Writing, column};

const INSERT: &str = "INSERT INTO entry (id, trial_id, kind, layout_version, plot_number, subsample, measure, occasion, \
     status, number, text, unit, body, remark, observed_at, recorded_at, by_whom, source_kind, source_file, \
     source_sheet, source_line, intake_id, replaces, reason) \
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";

/// What to do with a correction of an entry that has been corrected already.
#[derive(Clone, Copy, PartialEq)]
enum SecondCorrection {
    Refuse,
    Keep,
}

impl Writing<'_> {
    /// Appends entries to the journal, all or none, with the file that they came in. Returns how many.
    ///
    /// # Errors
    /// [`StoreError::BadEntry`] for an entry that cannot be kept or corrects one that is not there or is of another
    /// trial, [`StoreError::Conflict`] when the entry that it corrects was corrected already,
    /// [`StoreError::AlreadyRecorded`] for an identity that is in the journal, [`StoreError::SameFileAgain`].
    pub fn append_entries(&self, entries: &[NewEntry], intake: Option<&NewIntake>) -> Result<usize, StoreError> {
        self.append(entries, intake, SecondCorrection::Refuse)
    }

    /// As [`Writing::append_entries`], but keeps a second correction of the same entry beside the first: both are
    /// current until a person decides. For devices that were apart.
    ///
    /// # Errors
    /// As [`Writing::append_entries`], except [`StoreError::Conflict`].
    pub fn append_entries_side_by_side(
        &self,
        entries: &[NewEntry],
        intake: Option<&NewIntake>,
    ) -> Result<usize, StoreError> {
        self.append(entries, intake, SecondCorrection::Keep)
    }

    fn append(
        &self,
        entries: &[NewEntry],
        intake: Option<&NewIntake>,
        second: SecondCorrection,
    ) -> Result<usize, StoreError> {
        self.whole(|| {
            if let Some(intake) = intake {
                self.append_intake(intake)?;
            }
            self.check_belonging(entries)?;
            let mut statement = self.at(self.conn.prepare_cached(INSERT))?;
            for (i, entry) in entries.iter().enumerate() {
                self.check_entry(entry, i + 1, second)?;
                self.insert_entry(&mut statement, entry, i + 1, intake.map(|intake| intake.id))?;
            }
            Ok(entries.len())
        })
    }

    /// Every trial and layout that the batch names is there. Looked up once each, not once per entry.
    fn check_belonging(&self, entries: &[NewEntry]) -> Result<(), StoreError> {
        let mut seen = HashSet::new();
        for (i, entry) in entries.iter().enumerate() {
            if !seen.insert((entry.trial_id, entry.layout_version)) {
                continue;
            }
            self.require_trial(entry.trial_id)?;
            let Some(version) = entry.layout_version else { continue };
            let sql = "SELECT 1 FROM layout WHERE trial_id = ? AND version = ?";
            if !self.exists(sql, params![entry.trial_id.as_bytes(), version])? {
                return Err(bad(entry.place(i + 1), format!("the trial has no layout version {version}")));
            }
        }
        Ok(())
    }

    fn check_entry(&self, entry: &NewEntry, position: usize, second: SecondCorrection) -> Result<(), StoreError> {
        if let Some(problem) = entry.problem() {
            return Err(bad(entry.place(position), problem));
        }
        let Some(replaced) = entry.replaces else { return Ok(()) };
        self.check_replaced(entry, replaced, position)?;
        match second {
            SecondCorrection::Refuse => self.refuse_second_correction(entry, replaced, position),
            SecondCorrection::Keep => Ok(()),
        }
    }

    fn check_replaced(&self, entry: &NewEntry, replaced: Uuid, position: usize) -> Result<(), StoreError> {
        let sql = "SELECT trial_id FROM entry WHERE id = ?";
        let trial_id = self.first(sql, [replaced.as_bytes()], |row| column::id(row, "trial_id"))?;
        match trial_id {
            None => {
                Err(bad(entry.place(position), format!("it corrects entry {replaced}, which is not in the journal")))
            }
            Some(trial_id) if trial_id != entry.trial_id => {
                Err(bad(entry.place(position), format!("it corrects entry {replaced}, which is of another trial")))
            }
            Some(_) => Ok(()),
        }
    }

    fn refuse_second_correction(&self, entry: &NewEntry, replaced: Uuid, position: usize) -> Result<(), StoreError> {
        let sql = "SELECT id, by_whom, recorded_at FROM entry WHERE replaces = ? ORDER BY seq LIMIT 1";
        let earlier = self.first(sql, [replaced.as_bytes()], |row| {
            Ok(StoreError::Conflict {
                place: entry.place(position),
                replaced,
                replaced_by: column::id(row, "id")?,
                by: row.get("by_whom")?,
                recorded_at: column::moment(row, "recorded_at")?,
            })
        })?;
        earlier.map_or(Ok(()), Err)
    }

    fn insert_entry(
        &self,
        statement: &mut CachedStatement<'_>,
        entry: &NewEntry,
        position: usize,
        intake_id: Option<Uuid>,
    ) -> Result<(), StoreError> {
        let inserted = statement.execute(params![
            entry.id.as_bytes(),
            entry.trial_id.as_bytes(),
            entry.kind.word(),
            entry.layout_version,
            entry.plot_number,
            entry.subsample,
            entry.measure,
            entry.occasion,
            entry.status.word(),
            entry.number,
            entry.text,
            entry.unit,
            entry.body.as_ref().map(|body| body.to_string()),
            entry.remark,
            entry.observed_at.map(|observed| observed.to_string()),
            moment_text(entry.recorded_at),
            entry.by,
            entry.source.kind.word(),
            entry.source.file,
            entry.source.sheet,
            entry.source.line,
            intake_id.as_ref().map(Uuid::as_bytes),
            entry.replaces.as_ref().map(Uuid::as_bytes),
            entry.reason,
        ]);
        inserted.map(|_| ()).map_err(|source| self.refused(entry, position, source))
    }

    /// Names the entry whose row the database refused.
    fn refused(&self, entry: &NewEntry, position: usize, source: rusqlite::Error) -> StoreError {
        let unique = rusqlite::ffi::SQLITE_CONSTRAINT_UNIQUE;
        if source.sqlite_error().is_some_and(|error| error.extended_code == unique) {
            return StoreError::AlreadyRecorded { what: "entry", id: entry.id };
        }
        match StoreError::database(self.file, source) {
            StoreError::Invalid { problem, .. } => bad(entry.place(position), problem),
            other => other,
        }
    }
}

fn bad(place: Box<EntryPlace>, problem: impl Into<String>) -> StoreError {
    StoreError::BadEntry { place, problem: problem.into() }
}

impl Store {
    /// See [`Writing::append_entries`]. When this returns `Ok`, every entry is on the disk.
    pub fn append_entries(&self, entries: &[NewEntry], intake: Option<&NewIntake>) -> Result<usize, StoreError> {
        self.write(|writing| writing.append_entries(entries, intake))
    }

    /// See [`Writing::append_entries_side_by_side`].
    pub fn append_entries_side_by_side(
        &self,
        entries: &[NewEntry],
        intake: Option<&NewIntake>,
    ) -> Result<usize, StoreError> {
        self.write(|writing| writing.append_entries_side_by_side(entries, intake))
    }
}
