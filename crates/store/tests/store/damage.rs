//! Damaged files: told clearly, never taken for good, and a torn log loses nothing that was acknowledged.

use std::fs;
use std::path::{Path, PathBuf};

use guardrow_store::{EntryFilter, Store, StoreError, Uuid};
use tempfile::TempDir;

use crate::invented::{Station, count, day, station};

/// A closed station whose database was changed by `spoil`, and what opening it tells.
fn open_spoilt(spoil: impl FnOnce(Vec<u8>) -> Vec<u8>) -> Result<Store, StoreError> {
    let station = station();
    let entries: Vec<_> = (0..500).map(|i| count(station.trial, 101 + i % 16, f64::from(i), day(3))).collect();
    station.append(&entries);
    drop(station.store);
    let file = station.folder.join("station.db");
    let spoilt = spoil(fs::read(&file).unwrap());
    fs::write(&file, &spoilt).unwrap();
    let opened = Store::open(&station.folder);
    if opened.is_err() {
        assert_eq!(fs::read(&file).unwrap(), spoilt, "a refused file is left as it is");
    }
    opened
}

#[test]
fn a_truncated_database_is_told() {
    for keep in [100, 4096, 10_000] {
        let error = open_spoilt(|bytes| bytes[..keep].to_vec()).unwrap_err();
        assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
        assert!(error.to_string().contains(&format!("it ends after {keep} bytes")), "{error}");
        assert!(error.help().contains("backup"));
    }
    let error = open_spoilt(|bytes| bytes[..bytes.len() - 1].to_vec()).unwrap_err();
    assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
}

#[test]
fn a_file_that_is_no_database_is_told() {
    let cases = [(vec![], "it has only 0 bytes"), (b"SQLite format 3\0".to_vec(), "it has only 16 bytes")];
    for (content, expected) in cases {
        let error = open_spoilt(|_| content).unwrap_err();
        assert!(matches!(error, StoreError::NotADatabase { .. }) && error.to_string().contains(expected), "{error}");
    }
    let error = open_spoilt(|bytes| bytes.iter().map(|byte| byte ^ 0x5a).collect()).unwrap_err();
    assert!(error.to_string().contains("it does not begin as a database does"), "{error}");
}

#[test]
fn a_database_with_pages_wiped_out_does_not_pass_its_check() {
    let store = open_spoilt(|mut bytes| {
        bytes[8 * 4096..20 * 4096].fill(0);
        bytes
    });
    let error = store.and_then(|store| store.check()).unwrap_err();
    assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
}

/// A station whose last batches stand only in the log, as after a kill, with the length of the log after each batch.
struct Torn {
    station: Station,
    log_after: Vec<u64>,
}

const BATCH: usize = 3;

impl Torn {
    fn new() -> Self {
        // Opened anew, so that the log begins with the first batch.
        let station = station().opened_anew();
        let log = station.folder.join("station.db-wal");
        let log_after = (0..12).map(|batch| {
            let entries: Vec<_> = (0..BATCH).map(|_| count(station.trial, 101, f64::from(batch), day(3))).collect();
            station.append(&entries);
            fs::metadata(&log).unwrap().len()
        });
        let log_after = log_after.collect();
        Self { station, log_after }
    }

    /// A copy of the station with another log, opened.
    fn opened_with_log(&self, log: &[u8]) -> (TempDir, Store) {
        let copy = tempfile::tempdir().unwrap();
        fs::copy(self.station.folder.join("station.db"), copy.path().join("station.db")).unwrap();
        fs::write(copy.path().join("station.db-wal"), log).unwrap();
        let store = Store::open(copy.path()).unwrap();
        (copy, store)
    }

    fn log(&self) -> PathBuf {
        self.station.folder.join("station.db-wal")
    }
}

fn entries_in(store: &Store, trial: Uuid) -> usize {
    store.check().unwrap();
    store.all_entries(trial, &EntryFilter::default()).unwrap().len()
}

#[test]
fn a_log_cut_anywhere_keeps_every_batch_that_was_whole() {
    let torn = Torn::new();
    let log = fs::read(torn.log()).unwrap();
    assert_eq!(log.len() as u64, *torn.log_after.last().unwrap());
    // A prime step, so that cuts fall inside frames, their headers and between them.
    let cuts = (0..log.len()).step_by(4099).chain(torn.log_after.iter().map(|end| *end as usize));
    for cut in cuts {
        let whole = torn.log_after.iter().filter(|end| **end <= cut as u64).count();
        let (_copy, store) = torn.opened_with_log(&log[..cut]);
        assert_eq!(entries_in(&store, torn.station.trial), whole * BATCH, "log cut at {cut}");
    }
}

#[test]
fn a_log_with_a_torn_write_keeps_every_batch_before_it() {
    let torn = Torn::new();
    let log = fs::read(torn.log()).unwrap();
    for (batch, start) in torn.log_after.iter().enumerate().take(11) {
        let mut spoilt = log.clone();
        let at = *start as usize + 24 + 512;
        spoilt[at..at + 512].iter_mut().for_each(|byte| *byte ^= 0xff);
        let (_copy, store) = torn.opened_with_log(&spoilt);
        assert_eq!(entries_in(&store, torn.station.trial), (batch + 1) * BATCH, "torn in batch {}", batch + 2);
    }
}

#[test]
fn a_folder_in_the_place_of_the_database_is_told() {
    let home = tempfile::tempdir().unwrap();
    fs::create_dir(home.path().join("station.db")).unwrap();
    let told = |path: &Path| Store::open(path).unwrap_err();
    assert!(matches!(told(home.path()), StoreError::NotAStation { .. }));
}
