//! One store, many threads.

use guardrow_store::{EntryFilter, Store, StoreError, Uuid};
use serde_json::json;

use crate::invented::{count, day, station, version};

fn entries(reading: &guardrow_store::Reading<'_>, trial: Uuid) -> Result<usize, StoreError> {
    Ok(reading.all_entries(trial, &EntryFilter::default())?.len())
}

#[test]
fn a_store_can_be_shared_between_threads() {
    fn shared<T: Send + Sync>() {}
    shared::<Store>();
    shared::<StoreError>();
    let station = station();
    std::thread::scope(|scope| {
        for plot in 101..109 {
            let station = &station;
            scope.spawn(move || {
                for i in 0..20 {
                    station.append(&[count(station.trial, plot, f64::from(i), day(3))]);
                    let seen = station.store.history(station.trial, Some(plot), "plants").unwrap();
                    assert_eq!(seen.len() as i32, i + 1, "a thread sees what it wrote");
                }
            });
        }
    });
    assert_eq!(station.counts(None).len(), 160);
}

#[test]
fn one_look_sees_one_moment() {
    let station = station();
    let write = || station.append(&[count(station.trial, 101, 1.0, day(3))]);
    write();
    let (before, after) = station
        .store
        .read(|reading| {
            let before = entries(reading, station.trial)?;
            write();
            Ok::<_, StoreError>((before, entries(reading, station.trial)?))
        })
        .unwrap();
    assert_eq!((before, after), (1, 1));
    assert_eq!(station.counts(None).len(), 2);
}

#[test]
fn of_two_who_change_the_same_plan_one_is_told() {
    let station = station();
    let change = || station.store.append_plan(station.trial, 1, &version(json!({}), day(2)));
    let answers = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..8).map(|_| scope.spawn(change)).collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).collect::<Vec<_>>()
    });
    assert_eq!(answers.iter().filter(|answer| answer.is_ok()).count(), 1);
    let stale = |answer: &&Result<u32, StoreError>| matches!(answer, Err(StoreError::Stale { found: 2, .. }));
    assert_eq!(answers.iter().filter(stale).count(), 7);
}

#[test]
fn a_panic_inside_a_change_keeps_nothing_and_leaves_the_store_usable() {
    let station = station();
    let attempt = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
        station.store.write(|writing| {
            writing.append_entries(&[count(station.trial, 101, 1.0, day(3))], None)?;
            if writing.trials()?.len() == 1 {
                panic!("meant");
            }
            Ok::<_, StoreError>(())
        })
    }));
    assert!(attempt.is_err());
    assert_eq!(station.counts(None), []);
    station.append(&[count(station.trial, 101, 2.0, day(3))]);
    assert_eq!(station.counts(None), [(101, 2.0)]);
}
