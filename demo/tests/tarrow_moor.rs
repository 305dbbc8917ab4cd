//! The invented station is the same every time, says that it is invented, and finds what the generator made true.

use std::collections::BTreeMap;
use std::path::Path;

use guardrow_demo::truth::{TrueEffect, effects};
use guardrow_demo::{FindingLine, Papers, Step, Summary, build_with};
use guardrow_station::{ErrorKind, ShowObservations, Stage, Station, Status};

fn made(folder: &Path) -> (Summary, Vec<Step>) {
    let mut steps = Vec::new();
    let summary = build_with(folder, Papers::Few, &mut |step| steps.push(step)).expect("the station is made");
    (summary, steps)
}

/// Everything that is recorded of a trial except identities: plan, layout, every entry of every cell, notes, premise.
fn dump(folder: &Path) -> BTreeMap<String, String> {
    let station = Station::open(folder, jiff::Timestamp::now).expect("a station");
    let view = station.view().expect("its view");
    let mut dump = BTreeMap::new();
    for line in &view.trials {
        let code = &line.code;
        let trial = station.trial(code).expect("a trial");
        dump.insert(format!("{code} plan"), station.plan_file(code).expect("its plan"));
        dump.insert(format!("{code} layout"), format!("{:?}", trial.layout));
        dump.insert(format!("{code} notes"), format!("{:?} {:?} {:?}", trial.notes, trial.premise, trial.publications));
        let table = station.observations(code, &ShowObservations::default()).expect("its observations");
        for row in &table.rows {
            for measure in &table.measures {
                let history = station.history(code, row.plot, &measure.key).expect("a history");
                let told = history.iter().map(|entry| {
                    format!(
                        "{:?} {:?} {} {} {} {} {:?}",
                        entry.status, entry.value, entry.text, entry.by, entry.recorded_at, entry.source, entry.reason
                    )
                });
                dump.insert(format!("{code} {} {}", row.plot, measure.key), told.collect::<Vec<_>>().join(" | "));
            }
        }
    }
    dump.insert("lots".to_owned(), format!("{:?}", view.lots));
    dump
}

fn finding<'a>(summary: &'a Summary, effect: &TrueEffect) -> &'a FindingLine {
    let trial = summary.trials.iter().find(|trial| trial.code == effect.trial).expect("the trial is made");
    &trial.findings[effect.claim]
}

/// The interval in `+0.41 t/ha (95 % interval 0.27 to 0.55), ...`.
fn interval(numbers: &str) -> (f64, f64) {
    let told = numbers.split("interval ").nth(1).and_then(|rest| rest.split(')').next()).expect("an interval");
    let (lower, upper) = told.split_once(" to ").expect("two ends");
    (lower.parse().expect("a number"), upper.parse().expect("a number"))
}

#[test]
fn two_stations_hold_the_same_and_their_findings_agree_with_the_truth() {
    let home = tempfile::tempdir().expect("a folder");
    let (first, second) = (home.path().join("one"), home.path().join("two"));
    let (summary, steps) = made(&first);
    let (_, again) = made(&second);
    assert_eq!(steps, again);
    let (one, two) = (dump(&first), dump(&second));
    assert!(one.len() > 300, "{} things are compared", one.len());
    assert_eq!(one, two);

    for effect in effects() {
        let finding = finding(&summary, &effect);
        let wrong: &[&str] = if effect.difference >= effect.margin {
            &["contradicted", "no difference that matters"]
        } else if effect.difference.abs() < effect.margin {
            &["supported", "better"]
        } else {
            &[]
        };
        assert!(!wrong.iter().any(|word| finding.verdict.contains(word)), "{effect:?} was told as {finding:?}");
        let (lower, upper) = interval(&finding.numbers);
        assert!(lower <= effect.difference && effect.difference <= upper, "{effect:?} is outside {finding:?}");
        if let Some(plain) = effect.plain {
            assert_eq!(finding.verdict, plain, "{effect:?} was told as {finding:?}");
        }
    }
}

#[test]
fn every_trial_is_as_far_as_it_should_be_and_says_that_it_is_invented() {
    let home = tempfile::tempdir().expect("a folder");
    let folder = home.path().join("station");
    let (summary, _) = made(&folder);
    let stages: Vec<(&str, Stage)> = summary.trials.iter().map(|trial| (trial.code.as_str(), trial.stage)).collect();
    assert_eq!(stages, [("25-FB1", Stage::Observed), ("25-OA1", Stage::Observed), ("26-FX1", Stage::LaidOut)]);

    let station = Station::open(&folder, jiff::Timestamp::now).expect("a station");
    let view = station.view().expect("its view");
    assert!(view.invented);
    assert!(view.name.contains("invented"));
    let premise = station.trial("25-FB1").expect("a trial").premise.expect("a judged premise");
    assert!(!premise.after_yields, "the premise is judged before yields are known");
}

#[test]
fn the_kinds_of_empty_and_the_correction_are_in_the_records() {
    let home = tempfile::tempdir().expect("a folder");
    let folder = home.path().join("station");
    made(&folder);
    let station = Station::open(&folder, jiff::Timestamp::now).expect("a station");
    let table = station.observations("25-FB1", &ShowObservations::default()).expect("observations");
    let count = |status: Status| {
        let cells = table.rows.iter().flat_map(|row| &row.cells);
        cells.filter(|cell| cell.iter().any(|entry| entry.status == status)).count()
    };
    assert_eq!([count(Status::Lost), count(Status::NotSeen), count(Status::NotApplicable)], [1, 2, 1]);
    assert!(
        table.rows.iter().flat_map(|row| row.cells.iter().flatten()).any(|entry| entry.value == Some(0.0)),
        "a nought is a value and not an empty cell"
    );
    let corrections: Vec<_> = table
        .rows
        .iter()
        .flat_map(|row| station.history("25-FB1", row.plot, "stand").expect("a history"))
        .filter_map(|entry| entry.reason)
        .collect();
    assert_eq!(corrections.len(), 1, "{corrections:?}");
}

#[test]
fn a_folder_that_holds_something_is_left_alone() {
    let home = tempfile::tempdir().expect("a folder");
    std::fs::write(home.path().join("letter.txt"), "dear").expect("written");
    let error = build_with(home.path(), Papers::Few, &mut |_| {}).expect_err("not empty");
    assert_eq!(error.kind, ErrorKind::Refused, "{error:?}");
    assert_eq!(std::fs::read_dir(home.path()).expect("a folder").count(), 1);
}
