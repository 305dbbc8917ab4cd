//! Reading the journal: what holds now, what held at a past moment, and how it came to be.

use rusqlite::{ToSql, params};
use uuid::Uuid;

use crate::entry::{COLUMNS, read_entry};
use crate::moment::moment_text;
use crate::{Entry, EntryKind, Moment, Reading, Store, StoreError};

/// Which entries are asked for; the default asks for all. Every part that is given must fit.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct EntryFilter {
    /// of one of these kinds; empty: of every kind
    pub kinds: Vec<EntryKind>,
    /// of one of these measures; empty: of every measure, and without one
    pub measures: Vec<String>,
    /// of this occasion
    pub occasion: Option<String>,
    /// on this plot
    pub plot_number: Option<u32>,
    /// that came with this file
    pub intake_id: Option<Uuid>,
}

impl EntryFilter {
    /// Everything of one kind.
    pub fn kind(kind: EntryKind) -> Self {
        Self { kinds: vec![kind], ..Self::default() }
    }

    /// The observations of one measure.
    pub fn measure(measure: &str) -> Self {
        Self { measures: vec![measure.to_owned()], ..Self::kind(EntryKind::Observation) }
    }
}

/// A condition that is put together from parts, each with its values.
struct Condition {
    sql: String,
    values: Vec<Box<dyn ToSql>>,
}

impl Condition {
    fn of_trial(trial_id: Uuid) -> Self {
        Self { sql: "trial_id = ?".into(), values: vec![Box::new(*trial_id.as_bytes())] }
    }

    fn and(&mut self, sql: &str, value: impl ToSql + 'static) {
        self.sql.push_str(" AND ");
        self.sql.push_str(sql);
        self.values.push(Box::new(value));
    }

    fn and_one_of<T: ToSql + 'static>(&mut self, column: &str, values: impl ExactSizeIterator<Item = T>) {
        if values.len() == 0 {
            return;
        }
        let marks = vec!["?"; values.len()].join(", ");
        self.sql.push_str(&format!(" AND {column} IN ({marks})"));
        self.values.extend(values.map(|value| Box::new(value) as Box<dyn ToSql>));
    }

    fn and_filter(&mut self, filter: &EntryFilter) {
        self.and_one_of("kind", filter.kinds.iter().map(|kind| kind.word()));
        self.and_one_of("measure", filter.measures.iter().cloned());
        if let Some(occasion) = &filter.occasion {
            self.and("occasion = ?", occasion.clone());
        }
        if let Some(plot_number) = filter.plot_number {
            self.and("plot_number = ?", plot_number);
        }
        if let Some(intake_id) = filter.intake_id {
            self.and("intake_id = ?", *intake_id.as_bytes());
        }
    }

    /// Not replaced, as far as was known at `as_of`.
    fn and_current(&mut self, as_of: Option<Moment>) {
        match as_of.map(moment_text) {
            None => self.sql.push_str(" AND NOT EXISTS (SELECT 1 FROM entry later WHERE later.replaces = entry.id)"),
            Some(moment) => {
                self.and("recorded_at <= ?", moment.clone());
                self.and(
                    "NOT EXISTS (SELECT 1 FROM entry later WHERE later.replaces = entry.id AND later.recorded_at <= ?)",
                    moment,
                );
            }
        }
    }
}

impl Reading<'_> {
    /// The entries of a trial that hold: those that no other entry replaced, in the order in which they were accepted.
    ///
    /// - `as_of`: what was known at that moment; `None`: what is known now
    ///
    /// Two entries for the same plot, measure and occasion are both returned when neither replaces the other: that is
    /// for a person to settle. Withdrawals take an entry away and are not returned themselves.
    pub fn current_entries(
        &self,
        trial_id: Uuid,
        filter: &EntryFilter,
        as_of: Option<Moment>,
    ) -> Result<Vec<Entry>, StoreError> {
        let mut condition = Condition::of_trial(trial_id);
        condition.and_filter(filter);
        condition.and("kind <> ?", EntryKind::Withdrawal.word());
        condition.and_current(as_of);
        self.select(condition)
    }

    /// Every entry of a trial, replaced ones and withdrawals included, in the order in which they were accepted.
    pub fn all_entries(&self, trial_id: Uuid, filter: &EntryFilter) -> Result<Vec<Entry>, StoreError> {
        let mut condition = Condition::of_trial(trial_id);
        condition.and_filter(filter);
        self.select(condition)
    }

    fn select(&self, condition: Condition) -> Result<Vec<Entry>, StoreError> {
        let sql = format!("SELECT {COLUMNS} FROM entry WHERE {} ORDER BY seq", condition.sql);
        self.rows(&sql, rusqlite::params_from_iter(&condition.values), read_entry)
    }

    /// The entry with this identity.
    pub fn entry(&self, id: Uuid) -> Result<Option<Entry>, StoreError> {
        self.first(&format!("SELECT {COLUMNS} FROM entry WHERE id = ?"), [id.as_bytes()], read_entry)
    }

    /// Everything that was ever recorded for a measure on a plot (`None`: on no plot), in the order in which it was
    /// accepted, with every correction, also one that moved a value to another plot or from it.
    pub fn history(&self, trial_id: Uuid, plot_number: Option<u32>, measure: &str) -> Result<Vec<Entry>, StoreError> {
        let first = "SELECT id FROM entry WHERE trial_id = ? AND measure = ? AND plot_number IS ?";
        self.rows(&with_corrections(first), params![trial_id.as_bytes(), measure, plot_number], read_entry)
    }

    /// One entry with everything that it replaces and that replaces it, in the order in which they were accepted.
    pub fn entry_history(&self, id: Uuid) -> Result<Vec<Entry>, StoreError> {
        self.rows(&with_corrections("SELECT id FROM entry WHERE id = ?"), [id.as_bytes()], read_entry)
    }
}

/// The entries that `first` selects, and all that are joined to them by corrections.
fn with_corrections(first: &str) -> String {
    format!(
        "WITH RECURSIVE joined (id) AS (
             {first}
             UNION SELECT entry.id FROM joined JOIN entry ON entry.replaces = joined.id
             UNION SELECT entry.replaces FROM joined JOIN entry ON entry.id = joined.id WHERE entry.replaces IS NOT NULL
         )
         SELECT {COLUMNS} FROM entry WHERE id IN (SELECT id FROM joined) ORDER BY seq"
    )
}

impl Store {
    /// See [`Reading::current_entries`].
    pub fn current_entries(
        &self,
        trial_id: Uuid,
        filter: &EntryFilter,
        as_of: Option<Moment>,
    ) -> Result<Vec<Entry>, StoreError> {
        self.read(|reading| reading.current_entries(trial_id, filter, as_of))
    }

    /// See [`Reading::all_entries`].
    pub fn all_entries(&self, trial_id: Uuid, filter: &EntryFilter) -> Result<Vec<Entry>, StoreError> {
        self.read(|reading| reading.all_entries(trial_id, filter))
    }

    /// See [`Reading::entry`].
    pub fn entry(&self, id: Uuid) -> Result<Option<Entry>, StoreError> {
        self.read(|reading| reading.entry(id))
    }

    /// See [`Reading::history`].
    pub fn history(&self, trial_id: Uuid, plot_number: Option<u32>, measure: &str) -> Result<Vec<Entry>, StoreError> {
        self.read(|reading| reading.history(trial_id, plot_number, measure))
    }

    /// See [`Reading::entry_history`].
    pub fn entry_history(&self, id: Uuid) -> Result<Vec<Entry>, StoreError> {
        self.read(|reading| reading.entry_history(id))
    }
}
