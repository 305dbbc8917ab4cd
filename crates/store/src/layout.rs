//! The layouts of a trial, their plots, and what locks them.

use std::collections::BTreeMap;

use rusqlite::{Row, params};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::column;
use crate::moment::moment_text;
use crate::{Moment, Reading, Store, StoreError, Writing};

/// A layout that was drawn, to be recorded with its plots.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NewLayout {
    /// its identity, from [`new_id`](crate::new_id)
    pub id: Uuid,
    /// the trial
    pub trial_id: Uuid,
    /// the version of the plan that it carries out
    pub plan_version: u32,
    /// the whole layout
    pub body: Value,
    /// the seed of the draw, as it is printed; none when the trial was laid out elsewhere
    pub seed: Option<String>,
    /// name and version of the way it was drawn
    pub algorithm: String,
    /// when it was drawn
    pub drawn_at: Moment,
    /// by whom
    pub by: String,
    /// why it was drawn again; needed when the latest layout is locked
    pub reason: Option<String>,
    /// the plots on the ground
    pub plots: Vec<Plot>,
}

/// One version of a trial's layout. Its plots come from [`Reading::plots`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Layout {
    /// its identity
    pub id: Uuid,
    /// the trial
    pub trial_id: Uuid,
    /// from 1
    pub version: u32,
    /// the version of the plan that it carries out
    pub plan_version: u32,
    /// the whole layout
    pub body: Value,
    /// the seed of the draw, as it is printed; none when the trial was laid out elsewhere
    pub seed: Option<String>,
    /// name and version of the way it was drawn
    pub algorithm: String,
    /// when it was drawn
    pub drawn_at: Moment,
    /// by whom
    pub by: String,
    /// why it was drawn again
    pub reason: Option<String>,
}

/// A plot of a layout.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Plot {
    /// the number on its stake; a guard plot may have none
    pub number: Option<u32>,
    /// its replicate
    pub replicate: Option<u32>,
    /// its other larger units by name, as its main plot
    pub units: BTreeMap<String, u32>,
    /// its range
    pub range: Option<u32>,
    /// its pass
    pub pass: Option<u32>,
    /// its treatment; a guard plot may have none
    pub treatment: Option<String>,
    /// what it is, as in "plot" or "guard"
    pub kind: String,
}

/// Something that was made from a layout and would be wrong after a new draw, as "packets printed".
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LayoutLock {
    /// the layout
    pub layout_id: Uuid,
    /// what locked it
    pub what: String,
    /// when
    pub locked_at: Moment,
    /// by whom
    pub by: String,
}

fn read_layout(row: &Row<'_>) -> rusqlite::Result<Layout> {
    Ok(Layout {
        id: column::id(row, "id")?,
        trial_id: column::id(row, "trial_id")?,
        version: row.get("version")?,
        plan_version: row.get("plan_version")?,
        body: column::json(row, "body")?,
        seed: row.get("seed")?,
        algorithm: row.get("algorithm")?,
        drawn_at: column::moment(row, "drawn_at")?,
        by: row.get("by_whom")?,
        reason: row.get("reason")?,
    })
}

fn read_plot(row: &Row<'_>) -> rusqlite::Result<Plot> {
    Ok(Plot {
        number: row.get("number")?,
        replicate: row.get("replicate")?,
        units: units(row)?,
        range: row.get("range")?,
        pass: row.get("pass")?,
        treatment: row.get("treatment")?,
        kind: row.get("kind")?,
    })
}

fn units(row: &Row<'_>) -> rusqlite::Result<BTreeMap<String, u32>> {
    let body = column::json(row, "units")?;
    let units = body.as_object().into_iter().flatten();
    Ok(units.filter_map(|(name, unit)| Some((name.clone(), u32::try_from(unit.as_u64()?).ok()?))).collect())
}

fn read_lock(row: &Row<'_>) -> rusqlite::Result<LayoutLock> {
    Ok(LayoutLock {
        layout_id: column::id(row, "layout_id")?,
        what: row.get("what")?,
        locked_at: column::moment(row, "locked_at")?,
        by: row.get("by_whom")?,
    })
}

impl Reading<'_> {
    /// The layout with this identity.
    pub fn layout(&self, id: Uuid) -> Result<Option<Layout>, StoreError> {
        self.first("SELECT * FROM layout WHERE id = ?", [id.as_bytes()], read_layout)
    }

    /// The latest layout of a trial.
    pub fn latest_layout(&self, trial_id: Uuid) -> Result<Option<Layout>, StoreError> {
        let sql = "SELECT * FROM layout WHERE trial_id = ? ORDER BY version DESC LIMIT 1";
        self.first(sql, [trial_id.as_bytes()], read_layout)
    }

    /// Every layout of a trial, oldest first.
    pub fn layout_versions(&self, trial_id: Uuid) -> Result<Vec<Layout>, StoreError> {
        self.rows("SELECT * FROM layout WHERE trial_id = ? ORDER BY version", [trial_id.as_bytes()], read_layout)
    }

    /// The plots of a layout, in the order in which they were recorded.
    pub fn plots(&self, layout_id: Uuid) -> Result<Vec<Plot>, StoreError> {
        self.rows("SELECT * FROM plot WHERE layout_id = ? ORDER BY seq", [layout_id.as_bytes()], read_plot)
    }

    /// What locks a layout; it is locked when there is anything.
    pub fn layout_locks(&self, layout_id: Uuid) -> Result<Vec<LayoutLock>, StoreError> {
        self.rows("SELECT * FROM layout_lock WHERE layout_id = ? ORDER BY seq", [layout_id.as_bytes()], read_lock)
    }

    fn refuse_redraw(&self, latest: &Layout, reason: Option<&str>) -> Result<(), StoreError> {
        let locks = self.layout_locks(latest.id)?;
        let has_reason = reason.is_some_and(|reason| !reason.trim().is_empty());
        match locks.first() {
            Some(lock) if !has_reason => {
                Err(StoreError::LayoutLocked { version: latest.version, what: lock.what.clone() })
            }
            _ => Ok(()),
        }
    }
}

impl Writing<'_> {
    /// Records a new layout of a trial with its plots and returns its version.
    ///
    /// - `expected_version`: the latest version that the person saw, 0 when there was none
    ///
    /// # Errors
    /// [`StoreError::Stale`], [`StoreError::LayoutLocked`] when the latest layout is locked and no reason is given,
    /// [`StoreError::NoSuch`] trial or plan, [`StoreError::Invalid`] for a plot number or place used twice.
    pub fn append_layout(&self, expected_version: u32, layout: &NewLayout) -> Result<u32, StoreError> {
        self.require_trial(layout.trial_id)?;
        if self.plan(layout.trial_id, layout.plan_version)?.is_none() {
            return Err(StoreError::no_such("plan version", layout.plan_version));
        }
        let latest = self.latest_layout(layout.trial_id)?;
        let found = latest.as_ref().map_or(0, |latest| latest.version);
        if found != expected_version {
            return Err(StoreError::Stale { what: "layout", expected: expected_version, found });
        }
        if let Some(latest) = &latest {
            self.refuse_redraw(latest, layout.reason.as_deref())?;
        }
        if self.layout(layout.id)?.is_some() {
            return Err(StoreError::AlreadyRecorded { what: "layout", id: layout.id });
        }
        refuse_double_plots(&layout.plots)?;
        let version = found + 1;
        self.whole(|| {
            self.insert_layout(version, layout)?;
            layout.plots.iter().try_for_each(|plot| self.insert_plot(layout.id, plot))
        })?;
        Ok(version)
    }

    fn insert_layout(&self, version: u32, layout: &NewLayout) -> Result<(), StoreError> {
        self.insert(
            "INSERT INTO layout (id, trial_id, version, plan_version, body, seed, algorithm, drawn_at, by_whom, reason)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            params![
                layout.id.as_bytes(),
                layout.trial_id.as_bytes(),
                version,
                layout.plan_version,
                layout.body.to_string(),
                layout.seed,
                layout.algorithm,
                moment_text(layout.drawn_at),
                layout.by,
                layout.reason
            ],
        )
    }

    fn insert_plot(&self, layout_id: Uuid, plot: &Plot) -> Result<(), StoreError> {
        self.insert(
            "INSERT INTO plot (layout_id, number, replicate, units, \"range\", pass, treatment, kind)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            params![
                layout_id.as_bytes(),
                plot.number,
                plot.replicate,
                json!(plot.units).to_string(),
                plot.range,
                plot.pass,
                plot.treatment,
                plot.kind
            ],
        )
    }

    /// Records that something was made from a layout, so that a new draw needs a reason from now on.
    ///
    /// # Errors
    /// [`StoreError::NoSuch`] layout.
    pub fn lock_layout(&self, lock: &LayoutLock) -> Result<(), StoreError> {
        if self.layout(lock.layout_id)?.is_none() {
            return Err(StoreError::no_such("layout", lock.layout_id));
        }
        self.insert(
            "INSERT INTO layout_lock (layout_id, what, locked_at, by_whom) VALUES (?, ?, ?, ?)",
            params![lock.layout_id.as_bytes(), lock.what, moment_text(lock.locked_at), lock.by],
        )
    }
}

fn refuse_double_plots(plots: &[Plot]) -> Result<(), StoreError> {
    let mut numbers = std::collections::HashSet::new();
    let mut places = std::collections::HashSet::new();
    for plot in plots {
        if let Some(number) = plot.number.filter(|number| !numbers.insert(*number)) {
            return Err(StoreError::invalid(format!("plot {number}"), "the layout has this number twice"));
        }
        if let Some((range, pass)) = plot.range.zip(plot.pass).filter(|place| !places.insert(*place)) {
            return Err(StoreError::invalid(format!("range {range}, pass {pass}"), "the layout has two plots here"));
        }
    }
    Ok(())
}

impl Store {
    /// See [`Reading::layout`].
    pub fn layout(&self, id: Uuid) -> Result<Option<Layout>, StoreError> {
        self.read(|reading| reading.layout(id))
    }

    /// See [`Reading::latest_layout`].
    pub fn latest_layout(&self, trial_id: Uuid) -> Result<Option<Layout>, StoreError> {
        self.read(|reading| reading.latest_layout(trial_id))
    }

    /// See [`Reading::layout_versions`].
    pub fn layout_versions(&self, trial_id: Uuid) -> Result<Vec<Layout>, StoreError> {
        self.read(|reading| reading.layout_versions(trial_id))
    }

    /// See [`Reading::plots`].
    pub fn plots(&self, layout_id: Uuid) -> Result<Vec<Plot>, StoreError> {
        self.read(|reading| reading.plots(layout_id))
    }

    /// See [`Reading::layout_locks`].
    pub fn layout_locks(&self, layout_id: Uuid) -> Result<Vec<LayoutLock>, StoreError> {
        self.read(|reading| reading.layout_locks(layout_id))
    }

    /// See [`Writing::append_layout`].
    pub fn append_layout(&self, expected_version: u32, layout: &NewLayout) -> Result<u32, StoreError> {
        self.write(|writing| writing.append_layout(expected_version, layout))
    }

    /// See [`Writing::lock_layout`].
    pub fn lock_layout(&self, lock: &LayoutLock) -> Result<(), StoreError> {
        self.write(|writing| writing.lock_layout(lock))
    }
}
