//! Appending to the journal: what comes back, and what is refused.

use guardrow_store::{
    EntryFilter, EntryKind, NewEntry, NewIntake, Observed, Sha256, Source, SourceKind, Status, StoreError, Uuid, new_id,
};
use serde_json::json;

use crate::invented::{Station, correction, count, day, station, trial_called};

fn intake(station: &Station, content: &[u8]) -> NewIntake {
    NewIntake {
        id: new_id(day(3)),
        trial_id: Some(station.trial),
        file_name: "stand counts.xlsx".into(),
        sha256: Sha256::of(content),
        bytes: content.len() as u64,
        rows: 2,
        accepted_at: day(3),
        by: "Ines".into(),
        repeat_reason: None,
    }
}

/// The batch is refused and the journal is as before.
#[track_caller]
fn check_refused(station: &Station, batch: &[NewEntry], expected: &str) {
    let before = station.store.all_entries(station.trial, &EntryFilter::default()).unwrap();
    let error = station.store.append_entries(batch, None).unwrap_err();
    assert!(error.to_string().contains(expected), "{error}");
    assert!(!error.help().is_empty());
    assert_eq!(station.store.all_entries(station.trial, &EntryFilter::default()).unwrap(), before);
}

#[test]
fn every_part_of_an_entry_comes_back() {
    let station = station();
    let source = Source {
        kind: SourceKind::Spreadsheet,
        file: Some("stand counts.xlsx".into()),
        sheet: Some("Stand".into()),
        line: Some(12),
    };
    let first = NewEntry { source, subsample: Some(2), ..count(station.trial, 101, 0.1 + 0.2, day(3)) };
    let told = NewEntry {
        text: Some("uneven".into()),
        body: Some(json!({"rows": [1, 2.5], "é": null})),
        remark: Some("slugs".into()),
        observed_at: Some(Observed::On("2026-05-02".parse().unwrap())),
        ..correction(&first, -0.0, day(4))
    };
    let file = intake(&station, b"content");
    station.store.append_entries(&[first.clone(), told.clone()], Some(&file)).unwrap();
    let entries = station.store.all_entries(station.trial, &EntryFilter::default()).unwrap();
    assert_eq!(entries[0].number, Some(0.1 + 0.2));
    let back = &entries[1];
    let back_as_told = NewEntry {
        layout_version: back.layout_version,
        plot_number: back.plot_number,
        subsample: back.subsample,
        measure: back.measure.clone(),
        occasion: back.occasion.clone(),
        status: back.status,
        number: back.number,
        text: back.text.clone(),
        unit: back.unit.clone(),
        body: back.body.clone(),
        remark: back.remark.clone(),
        observed_at: back.observed_at,
        replaces: back.replaces,
        reason: back.reason.clone(),
        ..NewEntry::new(back.id, back.trial_id, back.kind, back.recorded_at, &back.by, back.source.clone())
    };
    assert_eq!(back_as_told, told);
    assert_eq!(back.intake_id, Some(file.id));
    assert_eq!(station.store.entry(told.id).unwrap().as_ref(), Some(back));
}

#[test]
fn zero_and_the_four_empties_are_kept_apart() {
    let station = station();
    let empties = [Status::NotSeen, Status::Lost, Status::NotApplicable, Status::NotYet];
    let mut batch = vec![count(station.trial, 101, 0.0, day(3))];
    batch.extend(empties.map(|status| NewEntry { status, number: None, ..count(station.trial, 102, 0.0, day(3)) }));
    station.append(&batch);
    let entries = station.store.current_entries(station.trial, &EntryFilter::measure("plants"), None).unwrap();
    let told: Vec<_> = entries.iter().map(|entry| (entry.status, entry.number)).collect();
    assert_eq!(
        told,
        [
            (Status::Value, Some(0.0)),
            (Status::NotSeen, None),
            (Status::Lost, None),
            (Status::NotApplicable, None),
            (Status::NotYet, None)
        ]
    );
}

#[test]
fn a_bad_entry_takes_its_whole_batch_with_it() {
    let station = station();
    let good = |plot| count(station.trial, plot, 30.0, day(3));
    station.append(&[good(101)]);
    let corrected = station.store.all_entries(station.trial, &EntryFilter::default()).unwrap()[0].id;
    let bad = |change: &dyn Fn(&mut NewEntry)| {
        let mut entry = good(103);
        change(&mut entry);
        entry
    };
    let cases: [(NewEntry, &str); 12] = [
        (bad(&|e| e.number = Some(f64::NAN)), "entry 3: its number is not finite"),
        (bad(&|e| e.number = Some(f64::INFINITY)), "entry 3: its number is not finite"),
        (bad(&|e| e.number = None), "entry 3: it has no value"),
        (bad(&|e| e.status = Status::Lost), "entry 3: it is marked 'lost' and has a value as well"),
        (bad(&|e| e.by = " ".into()), "entry 3: it does not say by whom"),
        (bad(&|e| e.measure = Some(String::new())), "entry 3: its measure has no name"),
        (bad(&|e| e.replaces = Some(corrected)), "entry 3: it corrects another entry and gives no reason"),
        (bad(&|e| (e.replaces, e.reason) = (Some(e.id), Some("misread".into()))), "entry 3: it corrects itself"),
        (bad(&|e| (e.replaces, e.reason) = (Some(Uuid::nil()), Some("misread".into()))), "which is not in the journal"),
        (bad(&|e| e.kind = EntryKind::Withdrawal), "entry 3: it takes back an entry and does not say which"),
        (bad(&|e| e.layout_version = Some(7)), "entry 3: the trial has no layout version 7"),
        (bad(&|e| e.id = corrected), "is in the station already"),
    ];
    for (entry, expected) in cases {
        check_refused(&station, &[good(101), good(102), entry, good(104)], expected);
    }
}

#[test]
fn a_bad_entry_is_named_by_file_sheet_and_line() {
    let station = station();
    let source = Source { kind: SourceKind::Csv, file: Some("counts.csv".into()), sheet: None, line: Some(7) };
    let entry = NewEntry { source, number: None, ..count(station.trial, 101, 0.0, day(3)) };
    check_refused(&station, &[entry], "entry 1 (counts.csv, line 7): it has no value");
}

#[test]
fn an_entry_of_an_unknown_trial_is_refused() {
    let station = station();
    check_refused(&station, &[count(Uuid::nil(), 101, 1.0, day(3))], "this station has no trial");
}

#[test]
fn a_correction_stays_within_its_trial() {
    let station = station();
    let other = trial_called("K2");
    station.store.create_trial(&other).unwrap();
    let first = count(station.trial, 101, 30.0, day(3));
    station.append(std::slice::from_ref(&first));
    let across = NewEntry { trial_id: other.id, layout_version: None, ..correction(&first, 31.0, day(4)) };
    check_refused(&station, &[across], "which is of another trial");
}

#[test]
fn an_empty_batch_is_no_error() {
    let station = station();
    assert_eq!(station.store.append_entries(&[], None).unwrap(), 0);
}

#[test]
fn the_same_file_twice_is_noticed() {
    let station = station();
    let first = intake(&station, b"the same bytes");
    station.store.append_entries(&[count(station.trial, 101, 1.0, day(3))], Some(&first)).unwrap();
    assert_eq!(station.store.find_intake_by_hash(first.sha256).unwrap(), std::slice::from_ref(&first));

    let again = NewIntake { id: new_id(day(4)), file_name: "copy.xlsx".into(), ..first.clone() };
    let batch = [count(station.trial, 102, 1.0, day(4))];
    let error = station.store.append_entries(&batch, Some(&again)).unwrap_err();
    assert!(matches!(&error, StoreError::SameFileAgain { earlier_name, .. } if *earlier_name == first.file_name));
    assert_eq!(station.counts(None), [(101, 1.0)], "nothing of the second time was kept");

    let meant = NewIntake { repeat_reason: Some("two of the sheets were swapped".into()), ..again };
    station.store.append_entries(&batch, Some(&meant)).unwrap();
    assert_eq!(station.store.intakes(station.trial).unwrap(), [first, meant]);
}

#[test]
fn a_bad_batch_leaves_no_intake_behind() {
    let station = station();
    let file = intake(&station, b"half bad");
    let bad = NewEntry { number: None, ..count(station.trial, 101, 1.0, day(3)) };
    station.store.append_entries(&[bad], Some(&file)).unwrap_err();
    assert_eq!(station.store.find_intake_by_hash(file.sha256).unwrap(), []);
}

#[test]
fn a_failed_step_that_is_passed_over_takes_the_whole_change_with_it() {
    let station = station();
    let error = station
        .store
        .write(|writing| {
            writing.append_entries(&[count(station.trial, 101, 1.0, day(3))], None)?;
            let bad = [count(station.trial, 102, 1.0, day(3)), count(station.trial, 103, f64::NAN, day(3))];
            let _ = writing.append_entries(&bad, None);
            Ok::<_, StoreError>(())
        })
        .unwrap_err();
    assert!(matches!(error, StoreError::HalfDone), "{error}");
    assert_eq!(station.counts(None), []);
}
