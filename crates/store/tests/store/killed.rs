//! A process that is killed while it writes: every batch that it acknowledged is there, whole.
//!
//! A kill tells about crashes of the program. What a power cut does to the log is tested in `damage`, by tearing it.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;

use guardrow_store::{EntryFilter, NewEntry, Store, Uuid};

use crate::invented::{count, day, station};
use crate::other_process;

const ROUNDS: u64 = 20;
const BATCH: usize = 100;

/// Appends numbered batches without end, telling each before it begins and after it was acknowledged.
fn append_until_killed(folder: &Path) -> ! {
    let store = Store::open(folder).unwrap();
    let trial = store.trial_by_code("K1").unwrap().unwrap().id;
    let mut number = store.all_entries(trial, &EntryFilter::default()).unwrap().len() / BATCH;
    loop {
        let occasion = Some(number.to_string());
        let entry = |_| NewEntry { occasion: occasion.clone(), ..count(trial, 101, 1.0, day(3)) };
        let entries: Vec<_> = (0..BATCH).map(entry).collect();
        println!("\nbegin {number}");
        store.append_entries(&entries, None).unwrap();
        println!("\nkept {number}");
        number += 1;
    }
}

/// Lets the other process write for a while, kills it, and returns the batches that it began and those acknowledged.
fn kill_after(folder: &Path, patience: Duration) -> (Vec<usize>, Vec<usize>) {
    let name = "killed::every_acknowledged_batch_survives_a_kill";
    let mut child = other_process::again(name, folder).stdout(Stdio::piped()).spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map(Result::unwrap);
    let first = lines.find(|line| line.starts_with("begin ")).expect("the other process writes until it is killed");
    std::thread::sleep(patience);
    child.kill().unwrap();
    child.wait().unwrap();
    let told: Vec<String> = std::iter::once(first).chain(lines).collect();
    let numbers = |word: &str| told.iter().filter_map(|line| line.strip_prefix(word)?.parse().ok()).collect();
    (numbers("begin "), numbers("kept "))
}

fn batches(store: &Store, trial: Uuid) -> BTreeMap<usize, usize> {
    let mut batches = BTreeMap::new();
    for entry in store.all_entries(trial, &EntryFilter::default()).unwrap() {
        *batches.entry(entry.occasion.unwrap().parse().unwrap()).or_default() += 1;
    }
    batches
}

#[test]
fn every_acknowledged_batch_survives_a_kill() {
    if let Some(folder) = other_process::given_folder() {
        append_until_killed(&folder);
    }
    let station = station();
    drop(station.store);
    let (trial, folder) = (station.trial, station.folder.as_path());
    let (mut acknowledged, mut interrupted) = (Vec::new(), 0);
    for round in 0..ROUNDS {
        // Spread over 0 to 150 ms; the machine's own unevenness makes the points random.
        let (begun, kept) = kill_after(folder, Duration::from_millis(round * 67 % 151));
        interrupted += usize::from(begun.len() > kept.len());
        acknowledged.extend(kept);

        let opened = Store::open(folder).unwrap();
        opened.check().unwrap();
        let found = batches(&opened, trial);
        assert!(found.values().all(|entries| *entries == BATCH), "a half batch in {found:?}");
        for number in &acknowledged {
            assert!(found.contains_key(number), "round {round}: batch {number} was acknowledged and is lost");
        }
    }
    println!("{} batches acknowledged, {interrupted} of {ROUNDS} kills fell inside a batch", acknowledged.len());
    assert!(acknowledged.len() > 5 && interrupted > 5, "{} {interrupted}", acknowledged.len());
}
