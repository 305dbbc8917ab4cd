//! What was known at a past moment: the table of then, on the plots and under the plan of then.

use std::cell::Cell;

use crate::hollow_fen::{CODE, measure, plan, save};
use guardrow_agronomy::unit::Unit;
use guardrow_station::*;

thread_local! {
    static HOUR: Cell<i8> = const { Cell::new(0) };
}

fn clock() -> jiff::Timestamp {
    hour(HOUR.get())
}

fn hour(hour: i8) -> jiff::Timestamp {
    format!("2031-05-04T{hour:02}:00:00Z").parse().expect("a moment")
}

fn set_clock(hour: i8) {
    HOUR.set(hour);
}

/// A station whose trial is started at 1 o'clock and laid out at 2.
fn drawn(folder: &std::path::Path) -> Station {
    set_clock(1);
    let station = Station::create(&folder.join("station"), "Hollow Fen", clock).expect("a new station");
    station.start_trial(&save(plan())).expect("started");
    set_clock(2);
    draw(&station, "42", "");
    station
}

fn draw(station: &Station, seed: &str, reason: &str) {
    let request = DrawLayout { by: "A. Tester".to_owned(), seed: Some(seed.to_owned()), reason: reason.to_owned() };
    station.draw_layout(CODE, &request).expect("drawn");
}

fn record(station: &Station, plot: u32, text: &str, replaces: Option<uuid::Uuid>) -> uuid::Uuid {
    let reason = if replaces.is_some() { "counted again".to_owned() } else { String::new() };
    let typed = TypedValue { plot, measure: "stand".to_owned(), text: text.to_owned(), replaces, reason };
    let values = TypedValues { by: "A. Tester".to_owned(), observed_on: None, values: vec![typed] };
    let table = station.record(CODE, &values).expect("recorded");
    table.rows.iter().find(|row| row.plot == plot).expect("the row").cells[0][0].id
}

fn known_at(station: &Station, as_of: Option<jiff::Timestamp>) -> Result<ObservationTable, StationError> {
    let event = Some("Stand count".to_owned());
    station.observations(CODE, &ShowObservations { event, as_of, blind: false })
}

/// The recorded stands with their plots, in the order of the plots.
fn stands(table: &ObservationTable) -> Vec<(u32, Option<f64>)> {
    let column = table.measures.iter().position(|measure| measure.key == "stand").expect("the measure");
    let mut stands: Vec<_> =
        table.rows.iter().flat_map(|row| row.cells[column].iter().map(|entry| (row.plot, entry.value))).collect();
    stands.sort_by_key(|(plot, _)| *plot);
    stands
}

#[test]
fn a_corrected_value_is_shown_as_it_stood_before_and_after() {
    let folder = tempfile::tempdir().expect("a folder");
    let station = drawn(folder.path());
    set_clock(3);
    let first = record(&station, 101, "38,5", None);
    set_clock(4);
    record(&station, 102, "40", None);
    set_clock(5);
    record(&station, 101, "39", Some(first));
    set_clock(6);
    for (moment, expected) in [
        (Some(hour(2)), vec![]),
        (Some(hour(3)), vec![(101, Some(38.5))]),
        (Some(hour(4)), vec![(101, Some(38.5)), (102, Some(40.0))]),
        (Some(hour(5)), vec![(101, Some(39.0)), (102, Some(40.0))]),
        (Some(hour(6)), vec![(101, Some(39.0)), (102, Some(40.0))]),
        (None, vec![(101, Some(39.0)), (102, Some(40.0))]),
    ] {
        let table = known_at(&station, moment).expect("a table");
        assert_eq!(stands(&table), expected, "{moment:?}");
        assert_eq!(table.as_of, moment, "a past table says which moment it shows");
        assert_eq!(table.rows.len(), 16, "every plot has its row, {moment:?}");
    }
}

#[test]
fn a_past_table_stands_on_the_plots_and_under_the_plan_of_its_time() {
    let folder = tempfile::tempdir().expect("a folder");
    let station = drawn(folder.path());
    let treatments = |table: &ObservationTable| {
        table.rows.iter().map(|row| (row.plot, row.treatment.clone().expect("an open table"))).collect::<Vec<_>>()
    };
    let as_drawn_first = treatments(&known_at(&station, None).expect("a table"));
    set_clock(3);
    record(&station, 101, "38,5", None);
    set_clock(4);
    draw(&station, "43", "the stakes were lost and the trial was seeded again");
    set_clock(5);
    let mut longer = plan();
    longer.measures.push(measure("weeds", "Weed cover", Unit::Percent, "Stand count"));
    station.save_plan(CODE, &SavePlan { reason: "weeds were seen".to_owned(), ..save(longer) }).expect("saved");

    let now = known_at(&station, None).expect("a table");
    assert_ne!(treatments(&now), as_drawn_first);
    assert_eq!(stands(&now), [], "plot 101 of the new draw is another plot; its value was taken elsewhere");
    assert_eq!(now.measures.len(), 2);
    let then = known_at(&station, Some(hour(3))).expect("a table");
    assert_eq!(treatments(&then), as_drawn_first);
    assert_eq!(stands(&then), [(101, Some(38.5))]);
    assert_eq!(then.measures.len(), 1, "the second measure was not planned then");
    let history = station.history(CODE, 101, "stand").expect("history");
    assert_eq!(history[0].source, "typed on screen, on the plot of layout version 1");
}

#[test]
fn a_moment_without_a_table_is_told_in_three_parts() {
    let folder = tempfile::tempdir().expect("a folder");
    let station = drawn(folder.path());
    set_clock(3);
    for (moment, kind, what, try_this) in [
        (0, ErrorKind::NotThere, "did not exist yet at 2031-05-04 00:00:00 UTC", "after 2031-05-04 01:00:00 UTC"),
        (1, ErrorKind::NotThere, "had no layout yet at 2031-05-04 01:00:00 UTC", "after its first layout"),
        (4, ErrorKind::Refused, "2031-05-04 04:00:00 UTC is still to come", "before 2031-05-04 03:00:00 UTC"),
    ] {
        let error = known_at(&station, Some(hour(moment))).expect_err(what);
        assert_eq!((error.kind, error.place.as_str()), (kind, "as_of"), "{error:?}");
        assert!(error.what.contains(what) && error.try_this.contains(try_this), "{error:?}");
    }
}
