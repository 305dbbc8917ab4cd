//! What was known at a past moment, and the history of a plot.

use guardrow_store::{EntryFilter, EntryKind, NewEntry, SourceKind, Status, StoreError, new_id};

use crate::invented::{correction, count, day, station};

#[test]
fn any_past_state_can_be_shown() {
    let station = station();
    let first = count(station.trial, 101, 30.0, day(3));
    let second = correction(&first, 33.0, day(5));
    let third = correction(&second, 34.0, day(7));
    station.append(&[first, count(station.trial, 102, 40.0, day(4))]);
    station.append(&[second]);
    station.append(&[third]);
    assert_eq!(station.counts(Some(day(2))), []);
    assert_eq!(station.counts(Some(day(3))), [(101, 30.0)]);
    assert_eq!(station.counts(Some(day(4))), [(101, 30.0), (102, 40.0)]);
    assert_eq!(station.counts(Some(day(5))), [(102, 40.0), (101, 33.0)]);
    assert_eq!(station.counts(Some(day(6))), [(102, 40.0), (101, 33.0)]);
    assert_eq!(station.counts(None), [(102, 40.0), (101, 34.0)]);
}

#[test]
fn two_entries_that_disagree_are_both_shown() {
    let station = station();
    station.append(&[count(station.trial, 101, 30.0, day(3)), count(station.trial, 101, 35.0, day(3))]);
    assert_eq!(station.counts(None), [(101, 30.0), (101, 35.0)]);
}

#[test]
fn a_second_correction_of_the_same_entry_is_a_conflict_or_kept_beside_the_first() {
    let station = station();
    let first = count(station.trial, 101, 30.0, day(3));
    let (ours, theirs) = (correction(&first, 31.0, day(4)), correction(&first, 32.0, day(4)));
    station.append(&[first.clone(), ours.clone()]);

    let error = station.store.append_entries(std::slice::from_ref(&theirs), None).unwrap_err();
    let StoreError::Conflict { replaced, replaced_by, .. } = error else { panic!("{error}") };
    assert_eq!((replaced, replaced_by), (first.id, ours.id));
    assert_eq!(station.counts(None), [(101, 31.0)]);

    station.store.append_entries_side_by_side(&[theirs], None).unwrap();
    assert_eq!(station.counts(None), [(101, 31.0), (101, 32.0)]);
}

#[test]
fn a_value_that_was_typed_on_the_wrong_plot_is_moved_and_seen_from_both() {
    let station = station();
    let wrong = count(station.trial, 101, 30.0, day(3));
    let right = NewEntry { plot_number: Some(105), ..correction(&wrong, 30.0, day(4)) };
    station.append(&[wrong, right]);
    assert_eq!(station.counts(None), [(105, 30.0)]);
    for plot in [101, 105] {
        let history = station.store.history(station.trial, Some(plot), "plants").unwrap();
        assert_eq!(history.iter().map(|entry| entry.plot_number.unwrap()).collect::<Vec<_>>(), [101, 105]);
    }
    assert_eq!(station.store.history(station.trial, Some(103), "plants").unwrap(), []);
    assert_eq!(station.store.history(station.trial, None, "plants").unwrap(), []);
}

#[test]
fn a_withdrawal_takes_an_entry_away_and_can_be_taken_back() {
    let station = station();
    let told = count(station.trial, 101, 30.0, day(3));
    station.append(std::slice::from_ref(&told));
    let kept = station.store.entry(told.id).unwrap().unwrap();
    let source = || SourceKind::Screen.into();
    let withdrawal = NewEntry::withdrawal(new_id(day(4)), &kept, day(4), "Ines", source(), "entered twice");
    station.append(std::slice::from_ref(&withdrawal));
    assert_eq!(station.counts(None), []);
    assert_eq!(station.counts(Some(day(3))), [(101, 30.0)]);

    let again =
        NewEntry { kind: EntryKind::Observation, status: Status::Value, ..correction(&withdrawal, 30.0, day(5)) };
    station.append(std::slice::from_ref(&again));
    assert_eq!(station.counts(None), [(101, 30.0)]);
    assert_eq!(station.store.entry_history(told.id).unwrap().len(), 3);
    assert_eq!(station.store.entry_history(again.id).unwrap().len(), 3);
}

#[test]
fn a_filter_asks_for_what_fits_all_its_parts() {
    let station = station();
    let plants = count(station.trial, 101, 30.0, day(3));
    let later = NewEntry { id: new_id(day(3)), occasion: Some("tillering".into()), ..plants.clone() };
    let height = NewEntry { id: new_id(day(3)), measure: Some("height".into()), ..plants.clone() };
    let note = NewEntry {
        text: Some("hail in the evening".into()),
        ..NewEntry::new(new_id(day(3)), station.trial, EntryKind::Note, day(3), "Ines", SourceKind::Phone.into())
    };
    station.append(&[plants.clone(), later.clone(), height.clone(), note.clone()]);
    let found = |filter: EntryFilter| {
        let entries = station.store.current_entries(station.trial, &filter, None).unwrap();
        entries.iter().map(|entry| entry.id).collect::<Vec<_>>()
    };
    let any = EntryFilter::default;
    assert_eq!(found(EntryFilter::kind(EntryKind::Note)), [note.id]);
    assert_eq!(found(EntryFilter::measure("plants")), [plants.id, later.id]);
    assert_eq!(
        found(EntryFilter { occasion: Some("emergence".into()), ..EntryFilter::measure("plants") }),
        [plants.id]
    );
    let both = EntryFilter { measures: vec!["plants".into(), "height".into()], ..any() };
    assert_eq!(found(both), [plants.id, later.id, height.id]);
    assert!(found(EntryFilter { plot_number: Some(102), ..any() }).is_empty());
    assert_eq!(found(any()).len(), 4);
}
