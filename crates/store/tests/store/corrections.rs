//! Any sequence of entries, corrections and withdrawals against a simple model, at any moment.

use guardrow_store::{
    EntryFilter, EntryKind, Moment, NewEntry, NewTrial, SourceKind, Status, StoreError, Uuid, new_id,
};
use proptest::prelude::*;

use crate::invented::{Station, correction, count, day, station, trial_called};

/// One thing that a person or a device does; `of` picks among the entries that are there.
#[derive(Debug, Clone)]
enum Step {
    Tell { plot: u32 },
    Correct { of: prop::sample::Index },
    CorrectApart { of: prop::sample::Index },
    Withdraw { of: prop::sample::Index },
}

/// Days may go backwards: clocks do.
fn steps() -> impl Strategy<Value = Vec<(Step, i8)>> {
    let of = any::<prop::sample::Index>;
    let step = prop_oneof![
        3 => (101u32..105).prop_map(|plot| Step::Tell { plot }),
        3 => of().prop_map(|of| Step::Correct { of }),
        1 => of().prop_map(|of| Step::CorrectApart { of }),
        1 => of().prop_map(|of| Step::Withdraw { of }),
    ];
    prop::collection::vec((step, 2i8..28), 1..40)
}

/// The journal as a plain list.
#[derive(Default)]
struct Model(Vec<NewEntry>);

impl Model {
    fn is_replaced(&self, id: Uuid, as_of: Moment) -> bool {
        self.0.iter().any(|later| later.replaces == Some(id) && later.recorded_at <= as_of)
    }

    fn current(&self, as_of: Moment) -> Vec<Uuid> {
        let known = self.0.iter().filter(|entry| entry.recorded_at <= as_of);
        let holds = known.filter(|entry| !self.is_replaced(entry.id, as_of));
        holds.filter(|entry| entry.kind != EntryKind::Withdrawal).map(|entry| entry.id).collect()
    }
}

fn next_entry(trial: Uuid, model: &Model, step: &Step, recorded_at: Moment) -> NewEntry {
    let value = model.0.len() as f64;
    match step {
        Step::Correct { of } | Step::CorrectApart { of } if !model.0.is_empty() => {
            let earlier = of.get(&model.0);
            let again = correction(earlier, value, recorded_at);
            NewEntry { kind: EntryKind::Observation, status: Status::Value, ..again }
        }
        Step::Withdraw { of } if !model.0.is_empty() => {
            let earlier = of.get(&model.0);
            NewEntry {
                status: Status::NotApplicable,
                replaces: Some(earlier.id),
                reason: Some("entered twice".into()),
                ..NewEntry::new(
                    new_id(recorded_at),
                    trial,
                    EntryKind::Withdrawal,
                    recorded_at,
                    "Ines",
                    SourceKind::Screen.into(),
                )
            }
        }
        Step::Tell { plot } => NewEntry { layout_version: None, ..count(trial, *plot, value, recorded_at) },
        _ => NewEntry { layout_version: None, ..count(trial, 101, value, recorded_at) },
    }
}

fn take(station: &Station, model: &mut Model, step: &Step, entry: NewEntry) -> Result<(), TestCaseError> {
    let apart = matches!(step, Step::CorrectApart { .. });
    let corrected_before = entry.replaces.is_some_and(|id| model.is_replaced(id, Moment::MAX));
    let batch = std::slice::from_ref(&entry);
    let answer = match apart {
        true => station.store.append_entries_side_by_side(batch, None),
        false => station.store.append_entries(batch, None),
    };
    if corrected_before && !apart {
        let conflict = matches!(answer, Err(StoreError::Conflict { .. }));
        prop_assert!(conflict, "{answer:?}");
        return Ok(());
    }
    prop_assert_eq!(answer.unwrap(), 1);
    model.0.push(entry);
    Ok(())
}

#[test]
fn what_holds_is_what_the_model_says() {
    let station = station();
    let config = ProptestConfig { cases: 60, ..ProptestConfig::default() };
    let mut runner = proptest::test_runner::TestRunner::new(config);
    let cases_seen = std::cell::Cell::new(0);
    runner
        .run(&steps(), |steps| {
            cases_seen.set(cases_seen.get() + 1);
            // Each case has a trial of its own, so that one station serves them all.
            let trial: NewTrial = trial_called(&format!("P{}", cases_seen.get()));
            station.store.create_trial(&trial).unwrap();
            let mut model = Model::default();
            for (step, on) in &steps {
                let entry = next_entry(trial.id, &model, step, day(*on));
                take(&station, &mut model, step, entry)?;
            }
            let found = |as_of| {
                let entries = station.store.current_entries(trial.id, &EntryFilter::default(), as_of).unwrap();
                entries.iter().map(|entry| entry.id).collect::<Vec<_>>()
            };
            for on in (1..29).step_by(3) {
                prop_assert_eq!(found(Some(day(on))), model.current(day(on)), "as of day {}", on);
            }
            prop_assert_eq!(found(None), model.current(Moment::MAX));
            let all = station.store.all_entries(trial.id, &EntryFilter::default()).unwrap();
            prop_assert_eq!(all.len(), model.0.len(), "nothing is dropped");
            Ok(())
        })
        .unwrap();
    assert!(cases_seen.get() >= 60);
}
