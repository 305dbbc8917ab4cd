//! Backups of the running station.

use std::fs;

use guardrow_store::{EntryFilter, NewEntry, Store, StoreError};

use crate::invented::{count, day, station};

#[test]
fn a_backup_is_a_station_again() {
    let station = station();
    station.append(&[count(station.trial, 101, 30.0, day(3))]);
    let file = station.store.folder().backups().join("monday.db");
    let backup = station.store.backup_to(&file).unwrap();
    assert_eq!(backup.bytes, fs::metadata(&file).unwrap().len());
    station.append(&[count(station.trial, 102, 31.0, day(4))]);

    let restored = tempfile::tempdir().unwrap();
    fs::copy(&file, restored.path().join("station.db")).unwrap();
    let restored = Store::open(restored.path()).unwrap();
    let entries = restored.all_entries(station.trial, &EntryFilter::default()).unwrap();
    assert_eq!(entries, station.store.all_entries(station.trial, &EntryFilter::default()).unwrap()[..1]);
    assert_eq!(restored.latest_plan(station.trial).unwrap(), station.store.latest_plan(station.trial).unwrap());
}

#[test]
fn a_backup_overwrites_nothing() {
    let station = station();
    let file = station.folder.join("backups").join("monday.db");
    fs::write(&file, "mine").unwrap();
    let error = station.store.backup_to(&file).unwrap_err();
    assert!(matches!(error, StoreError::Invalid { .. }), "{error}");
    assert_eq!(fs::read(&file).unwrap(), b"mine");
}

#[test]
fn a_backup_into_a_folder_that_is_not_there_is_told() {
    let station = station();
    let error = station.store.backup_to(station.folder.join("elsewhere").join("monday.db")).unwrap_err();
    assert!(error.to_string().contains("monday.db"), "{error}");
}

/// Every backup that is made while batches are written holds whole batches only.
#[test]
fn a_backup_beside_a_writer_is_of_one_moment() {
    const BATCH: usize = 40;
    let station = station();
    let home = tempfile::tempdir().unwrap();
    std::thread::scope(|scope| {
        scope.spawn(|| {
            for _ in 0..30 {
                let entries: Vec<NewEntry> = (0..BATCH).map(|_| count(station.trial, 101, 1.0, day(3))).collect();
                station.append(&entries);
            }
        });
        for i in 0..6 {
            let file = home.path().join(i.to_string()).join("station.db");
            fs::create_dir(file.parent().unwrap()).unwrap();
            station.store.backup_to(&file).unwrap();
            let copy = Store::open(file.parent().unwrap()).unwrap();
            let entries = copy.all_entries(station.trial, &EntryFilter::default()).unwrap().len();
            assert_eq!(entries % BATCH, 0, "{entries} entries");
        }
    });
}
