//! Measures the journal with 100,000 observations: `cargo run --release -p guardrow-store --example hundred_thousand_entries`.
//!
//! The figure depends on the disk: the batch is one transaction with a full sync at its end.

use std::time::Instant;

use guardrow_store::{
    EntryFilter, EntryKind, Moment, NewEntry, NewIntake, NewTrial, Sha256, Source, SourceKind, Store, StoreError, Uuid,
    new_id,
};

const ENTRIES: u32 = 100_000;
const MEASURES: [&str; 5] = ["plants", "height", "cover", "mass", "moisture"];

fn entry(trial: Uuid, now: Moment, i: u32) -> NewEntry {
    let source = Source {
        kind: SourceKind::Spreadsheet,
        file: Some("invented counts.xlsx".into()),
        sheet: Some("Counts".into()),
        line: Some(i + 2),
    };
    NewEntry {
        plot_number: Some(101 + i / 5 % 400),
        measure: Some(MEASURES[i as usize % 5].into()),
        occasion: Some(format!("visit {}", i / 2000)),
        number: Some(f64::from(i) * 0.1),
        unit: Some("plants/m2".into()),
        observed_at: "2026-05-12".parse().ok(),
        ..NewEntry::new(new_id(now), trial, EntryKind::Observation, now, "Ines", source)
    }
}

fn timed<T>(what: &str, work: impl FnOnce() -> T) -> T {
    let start = Instant::now();
    let answer = work();
    println!("{what}: {:.3} s", start.elapsed().as_secs_f64());
    answer
}

fn main() -> Result<(), StoreError> {
    let folder = std::env::temp_dir().join(format!("guardrow-store-measure-{}", std::process::id()));
    let now = Moment::UNIX_EPOCH;
    let store = timed("make a station", || Store::create(&folder))?;
    let trial = NewTrial { id: new_id(now), code: "M1".into(), created_at: now, by: "Ines".into() };
    store.create_trial(&trial)?;
    let intake = NewIntake {
        id: new_id(now),
        trial_id: Some(trial.id),
        file_name: "invented counts.xlsx".into(),
        sha256: Sha256::of(b"invented"),
        bytes: 8,
        rows: ENTRIES,
        accepted_at: now,
        by: "Ines".into(),
        repeat_reason: None,
    };
    let entries: Vec<_> = (0..ENTRIES).map(|i| entry(trial.id, now, i)).collect();
    let kept = timed("append 100,000 entries, on the disk", || store.append_entries(&entries, Some(&intake)))?;
    let read = |filter: EntryFilter| store.current_entries(trial.id, &filter, None);
    let all = timed("read all that hold", || read(EntryFilter::default()))?;
    let one = timed("read one measure that holds", || read(EntryFilter::measure("mass")))?;
    let past =
        timed("read all as of a past moment", || store.current_entries(trial.id, &EntryFilter::default(), Some(now)))?;
    timed("history of one plot and measure", || store.history(trial.id, Some(101), "plants"))?;
    timed("append 1 entry", || store.append_entries(&[entry(trial.id, now, 0)], None))?;
    timed("check the whole database", || store.check())?;
    let backup = timed("back up and check the copy", || store.backup_to(folder.join("backups").join("measure.db")))?;
    drop(store);
    timed("open", || Store::open(&folder))?;
    println!("{kept} kept, {} hold, {} of one measure, {} then", all.len(), one.len(), past.len());
    println!("{:.1} MB on the disk", backup.bytes as f64 / 1e6);
    std::fs::remove_dir_all(&folder).map_err(|source| StoreError::File { doing: "removing", path: folder, source })
}
