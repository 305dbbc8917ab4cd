//! A full disk: the change is refused whole, and what was accepted before is safe.

use std::fs;
use std::path::Path;
use std::process::Command;

use guardrow_store::{NewEntry, NewIntake, NewTrial, Sha256, Store, StoreError, Uuid, new_id};

use crate::invented::{count, day, station, trial_called};

fn batch(trial: Uuid, entries: u32) -> Vec<NewEntry> {
    let entry = |i| NewEntry { layout_version: None, ..count(trial, 101 + i % 16, f64::from(i), day(3)) };
    (0..entries).map(entry).collect()
}

fn intake(trial: Uuid) -> NewIntake {
    NewIntake {
        id: new_id(day(3)),
        trial_id: Some(trial),
        file_name: "big.csv".into(),
        sha256: Sha256::of(b"big"),
        bytes: 3,
        rows: 3000,
        accepted_at: day(3),
        by: "Ines".into(),
        repeat_reason: None,
    }
}

#[test]
fn a_batch_that_finds_no_room_leaves_nothing_and_goes_in_when_there_is_room() {
    let station = station();
    station.append(&batch(station.trial, 50));
    station.store.limit_size(600_000).unwrap();
    let (entries, file) = (batch(station.trial, 5000), intake(station.trial));
    for _ in 0..2 {
        let error = station.store.append_entries(&entries, Some(&file)).unwrap_err();
        assert!(matches!(error, StoreError::DiskFull { .. }), "{error}");
        assert_eq!(station.counts(None).len(), 50);
        assert_eq!(station.store.find_intake_by_hash(file.sha256).unwrap(), []);
        station.store.check().unwrap();
    }
    station.append(&batch(station.trial, 5));
    station.store.limit_size(1 << 30).unwrap();
    station.store.append_entries(&entries, Some(&file)).unwrap();
    assert_eq!(station.counts(None).len(), 5055);
}

/// A file system of four megabytes, as long as it lives. `None` where this process may not mount one.
struct SmallDisk<'a>(&'a Path);

impl<'a> SmallDisk<'a> {
    fn at(path: &'a Path) -> Option<Self> {
        let mount = Command::new("mount").args(["-t", "tmpfs", "-o", "size=4m", "tmpfs"]).arg(path).output();
        mount.is_ok_and(|output| output.status.success()).then_some(Self(path))
    }
}

impl Drop for SmallDisk<'_> {
    fn drop(&mut self) {
        let unmounted = Command::new("umount").arg(self.0).status();
        assert!(unmounted.is_ok_and(|status| status.success()), "{} stays mounted", self.0.display());
    }
}

/// Fills a real file system, until nothing goes in any more. Needs the right to mount one; without it, only the
/// simulated full disk above is tested.
#[test]
fn a_disk_that_is_really_full() {
    let home = tempfile::tempdir().unwrap();
    let Some(disk) = SmallDisk::at(home.path()) else {
        eprintln!("not tested here: no right to mount a small file system");
        return;
    };
    let trial = NewTrial { ..trial_called("K1") };
    let mut kept = 0;
    {
        let store = Store::create(home.path().join("station")).unwrap();
        store.create_trial(&trial).unwrap();
        let error = loop {
            match store.append_entries(&batch(trial.id, 500), None) {
                Ok(count) => kept += count,
                Err(error) => break error,
            }
        };
        assert!(matches!(error, StoreError::DiskFull { .. }), "{error:?}");
        assert!(kept > 0);
        assert_eq!(store.current_entries(trial.id, &Default::default(), None).unwrap().len(), kept);

        let error = store.backup_to(home.path().join("copy.db")).unwrap_err();
        assert!(matches!(error, StoreError::DiskFull { .. }), "{error:?}");
        let names = fs::read_dir(home.path()).unwrap().count();
        assert_eq!(names, 1, "a backup that failed leaves nothing behind");
    }
    let store = Store::open(home.path().join("station")).unwrap();
    store.check().unwrap();
    assert_eq!(store.current_entries(trial.id, &Default::default(), None).unwrap().len(), kept);
    drop(store);
    drop(disk);
}
