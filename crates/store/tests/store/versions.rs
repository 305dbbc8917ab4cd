//! Trials, plans, layouts, lots, the station's own values, publications.

use guardrow_store::{Info, LayoutLock, NewLayout, NewLot, NewPublication, Plot, Sha256, StoreError, Uuid, new_id};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::invented::{day, layout_of, station, trial_called, version};

#[test]
fn a_trial_code_is_taken_whatever_its_case() {
    let station = station();
    let error = station.store.create_trial(&trial_called("k1")).unwrap_err();
    assert!(matches!(error, StoreError::CodeTaken { what: "trial", .. }), "{error}");
    assert_eq!(station.store.trial_by_code("k1").unwrap().unwrap().id, station.trial);
    assert!(matches!(station.store.create_trial(&trial_called(" ")), Err(StoreError::Invalid { .. })));
    assert_eq!(station.store.trials().unwrap().len(), 1);
}

#[test]
fn a_plan_is_built_on_the_version_that_was_seen() {
    let station = station();
    let next = |body: Value| station.store.append_plan(station.trial, 1, &version(body, day(3)));
    assert_eq!(next(json!({"question": "changed"})).unwrap(), 2);
    let error = next(json!({"question": "changed elsewhere"})).unwrap_err();
    assert!(matches!(error, StoreError::Stale { what: "plan", expected: 1, found: 2 }), "{error}");
    let bodies = |plans: Vec<guardrow_store::Plan>| plans.into_iter().map(|plan| plan.body).collect::<Vec<_>>();
    assert_eq!(
        bodies(station.store.plan_versions(station.trial).unwrap()),
        [json!({"question": "invented"}), json!({"question": "changed"})]
    );
    assert_eq!(station.store.plan_as_of(station.trial, day(2)).unwrap().unwrap().version, 1);
    assert_eq!(station.store.latest_plan(station.trial).unwrap().unwrap().version, 2);
}

#[test]
fn a_plan_of_no_trial_is_refused() {
    let error = station().store.append_plan(Uuid::nil(), 0, &version(json!({}), day(3))).unwrap_err();
    assert!(matches!(error, StoreError::NoSuch { what: "trial", .. }), "{error}");
}

#[test]
fn a_layout_comes_back_with_its_plots_and_its_seed() {
    let station = station();
    let layout = station.store.latest_layout(station.trial).unwrap().unwrap();
    assert_eq!(layout.seed, Some("f".repeat(64)));
    assert_eq!(station.store.plots(layout.id).unwrap(), layout_of(station.trial, 16).plots);
}

#[test]
fn a_locked_layout_is_drawn_again_only_for_a_reason() {
    let station = station();
    let first = station.store.latest_layout(station.trial).unwrap().unwrap();
    let lock =
        |what: &str| LayoutLock { layout_id: first.id, what: what.into(), locked_at: day(4), by: "Tomas".into() };
    station.store.lock_layout(&lock("packets printed")).unwrap();
    station.store.lock_layout(&lock("sheets printed")).unwrap();
    assert_eq!(station.store.layout_locks(first.id).unwrap().len(), 2);

    let error = station.store.append_layout(1, &layout_of(station.trial, 16)).unwrap_err();
    assert!(matches!(&error, StoreError::LayoutLocked { version: 1, what } if what == "packets printed"), "{error}");
    let again = NewLayout { reason: Some("the field was moved".into()), ..layout_of(station.trial, 12) };
    assert_eq!(station.store.append_layout(1, &again).unwrap(), 2);
    assert_eq!(station.store.plots(first.id).unwrap().len(), 16, "the old layout stays readable");
    assert_eq!(station.store.plots(again.id).unwrap().len(), 12);
}

#[test]
fn a_layout_with_a_plot_twice_is_refused_whole() {
    let station = station();
    let mut layout = layout_of(station.trial, 4);
    layout.plots[3].number = Some(101);
    let error = station.store.append_layout(1, &layout).unwrap_err();
    assert_eq!(error.to_string(), "plot 101: the layout has this number twice");
    layout.plots[3] = Plot { number: Some(104), ..layout.plots[0].clone() };
    let error = station.store.append_layout(1, &layout).unwrap_err();
    assert_eq!(error.to_string(), "range 1, pass 1: the layout has two plots here");
    assert_eq!(station.store.layout_versions(station.trial).unwrap().len(), 1);
}

#[test]
fn guard_plots_need_no_number_and_foreign_plots_no_place() {
    let station = station();
    let mut layout = layout_of(station.trial, 4);
    for plot in &mut layout.plots[..2] {
        *plot = Plot { number: None, treatment: None, kind: "guard".into(), ..plot.clone() };
    }
    for plot in &mut layout.plots[2..] {
        *plot = Plot { range: None, pass: None, ..plot.clone() };
    }
    station.store.append_layout(1, &layout).unwrap();
    assert_eq!(station.store.plots(layout.id).unwrap(), layout.plots);
}

#[test]
fn a_lot_keeps_every_version_of_its_papers() {
    let station = station();
    let store = &station.store;
    let lot = NewLot { id: new_id(day(2)), code: "S-07".into(), created_at: day(2), by: "Ines".into() };
    store.create_lot(&lot).unwrap();
    assert!(matches!(
        store.create_lot(&NewLot { id: new_id(day(2)), code: "s-07".into(), ..lot.clone() }),
        Err(StoreError::CodeTaken { what: "lot", .. })
    ));
    store.append_lot_version(lot.id, 0, &version(json!({"germination": 0.95}), day(2))).unwrap();
    store.append_lot_version(lot.id, 1, &version(json!({"germination": 0.91}), day(5))).unwrap();
    let stale = store.append_lot_version(lot.id, 1, &version(json!({}), day(6)));
    assert!(matches!(stale, Err(StoreError::Stale { what: "lot", expected: 1, found: 2 })));
    let papers: Vec<Value> = store.lot_versions(lot.id).unwrap().into_iter().map(|papers| papers.body).collect();
    assert_eq!(papers, [json!({"germination": 0.95}), json!({"germination": 0.91})]);
    assert_eq!(store.lots().unwrap(), [lot]);
}

#[test]
fn what_is_told_about_the_station_has_a_history() {
    let station = station();
    let store = &station.store;
    let told = |value: Value, on| Info { key: "units".into(), value, recorded_at: day(on), by: "Ines".into() };
    store.set_info(&told(json!({"yield": "kg/ha"}), 2)).unwrap();
    store.set_info(&told(json!({"yield": "t/ha"}), 3)).unwrap();
    assert_eq!(store.info("units").unwrap().unwrap().value, json!({"yield": "t/ha"}));
    assert_eq!(store.info_history("units").unwrap().len(), 2);
    assert_eq!(store.all_info().unwrap(), [told(json!({"yield": "t/ha"}), 3)]);
    assert_eq!(store.info("name").unwrap(), None);
}

#[test]
fn a_record_by_nobody_is_refused() {
    let info = Info { key: "units".into(), value: json!(1), recorded_at: day(2), by: "  ".into() };
    let error = station().store.set_info(&info).unwrap_err();
    assert!(matches!(error, StoreError::Invalid { .. }), "{error}");
}

#[test]
fn a_publication_remembers_its_inputs() {
    let station = station();
    let report = NewPublication {
        id: new_id(day(9)),
        trial_id: Some(station.trial),
        kind: "report".into(),
        file: "K1-report.pdf".into(),
        sha256: Sha256::of(b"a report"),
        made_at: day(9),
        by: "Ines".into(),
        inputs: json!({"plan": 1, "layout": 1}),
    };
    station.store.append_publication(&report).unwrap();
    assert_eq!(station.store.publications(station.trial).unwrap(), std::slice::from_ref(&report));
    assert!(matches!(station.store.append_publication(&report), Err(StoreError::AlreadyRecorded { .. })));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, ..ProptestConfig::default() })]

    /// A JSON reader that is fast but not exact may change the last digit of a number.
    #[test]
    fn numbers_in_a_body_come_back_to_the_last_bit(numbers in prop::collection::vec(prop::num::f64::NORMAL, 1..400)) {
        let station = station();
        station.store.append_plan(station.trial, 1, &version(json!(numbers), day(2))).unwrap();
        let back = station.store.latest_plan(station.trial).unwrap().unwrap().body;
        prop_assert_eq!(serde_json::from_value::<Vec<f64>>(back).unwrap(), numbers);
    }
}
