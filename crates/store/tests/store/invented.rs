//! An invented station for the tests, with one trial of numbered plots.

use std::collections::BTreeMap;
use std::path::PathBuf;

use guardrow_store::{
    EntryFilter, EntryKind, Moment, NewEntry, NewLayout, NewTrial, NewVersion, Plot, SourceKind, Store, Uuid, new_id,
};
use serde_json::json;
use tempfile::TempDir;

pub struct Station {
    pub store: Store,
    pub trial: Uuid,
    pub folder: PathBuf,
    /// Removed, with the station in it, when the test ends.
    _home: TempDir,
}

/// Noon of a day in May 2026, the invented season.
pub fn day(day: i8) -> Moment {
    format!("2026-05-{day:02}T12:00:00Z").parse().unwrap()
}

pub fn trial_called(code: &str) -> NewTrial {
    NewTrial { id: new_id(day(1)), code: code.into(), created_at: day(1), by: "Ines".into() }
}

pub fn version(body: serde_json::Value, recorded_at: Moment) -> NewVersion {
    NewVersion { body, recorded_at, by: "Ines".into(), reason: None }
}

pub fn layout_of(trial: Uuid, plots: u32) -> NewLayout {
    let plot = |i: u32| Plot {
        number: Some(101 + i),
        replicate: Some(1 + i / 4),
        units: BTreeMap::new(),
        range: Some(1 + i / 4),
        pass: Some(1 + i % 4),
        treatment: Some(format!("T{}", i % 4)),
        kind: "plot".into(),
    };
    NewLayout {
        id: new_id(day(1)),
        trial_id: trial,
        plan_version: 1,
        body: json!({"alley": 1.5}),
        seed: Some("f".repeat(64)),
        algorithm: "test 1".into(),
        drawn_at: day(1),
        by: "Ines".into(),
        reason: None,
        plots: (0..plots).map(plot).collect(),
    }
}

/// A new station with the trial "K1": plan version 1, layout version 1 with 16 plots.
pub fn station() -> Station {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("station");
    let store = Store::create(&folder).unwrap();
    let trial = trial_called("K1");
    store.create_trial(&trial).unwrap();
    store.append_plan(trial.id, 0, &version(json!({"question": "invented"}), day(1))).unwrap();
    store.append_layout(0, &layout_of(trial.id, 16)).unwrap();
    Station { store, trial: trial.id, folder, _home: home }
}

/// A count of plants on a plot.
pub fn count(trial: Uuid, plot: u32, number: f64, recorded_at: Moment) -> NewEntry {
    NewEntry {
        layout_version: Some(1),
        plot_number: Some(plot),
        measure: Some("plants".into()),
        occasion: Some("emergence".into()),
        number: Some(number),
        unit: Some("plants/m2".into()),
        ..NewEntry::new(
            new_id(recorded_at),
            trial,
            EntryKind::Observation,
            recorded_at,
            "Tomas",
            SourceKind::Screen.into(),
        )
    }
}

/// The same, in place of `earlier`.
pub fn correction(earlier: &NewEntry, number: f64, recorded_at: Moment) -> NewEntry {
    NewEntry {
        id: new_id(recorded_at),
        number: Some(number),
        recorded_at,
        replaces: Some(earlier.id),
        reason: Some("misread".into()),
        ..earlier.clone()
    }
}

impl Station {
    pub fn opened_anew(self) -> Self {
        drop(self.store);
        Self { store: Store::open(&self.folder).unwrap(), ..self }
    }

    pub fn append(&self, entries: &[NewEntry]) {
        assert_eq!(self.store.append_entries(entries, None).unwrap(), entries.len());
    }

    /// Plot and number of every entry that holds, as known at `as_of`.
    pub fn counts(&self, as_of: Option<Moment>) -> Vec<(u32, f64)> {
        let entries = self.store.current_entries(self.trial, &EntryFilter::default(), as_of).unwrap();
        entries.iter().map(|entry| (entry.plot_number.unwrap(), entry.number.unwrap())).collect()
    }
}
