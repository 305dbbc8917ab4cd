//! 100,000 observations from a CSV file into the journal of a station, checked row by row.

use std::fmt::Write as _;

use guardrow_agronomy::unit::Unit;
use guardrow_design::{Arrangement, Factor, TreatmentStructure};
use guardrow_station::{
    DrawLayout, IncomingFile, Measure, Plan, SavePlan, ShowObservations, Station, TrialHead, ValueKind,
};

use crate::measurement::Measurement;

const PLOTS: usize = 1000;
const MEASURES: usize = 100;

fn now() -> jiff::Timestamp {
    "2031-06-01T08:00:00Z".parse().expect("a moment")
}

fn plan() -> Plan {
    let levels: Vec<String> = (1..=100).map(|level| format!("entry {level}")).collect();
    let names: Vec<&str> = levels.iter().map(String::as_str).collect();
    let mut plan = Plan {
        trial: TrialHead { code: "BENCH".to_owned(), season: 2031, ..TrialHead::default() },
        treatments: TreatmentStructure { factors: vec![Factor::qualitative("entry", &names)], controls: Vec::new() },
        arrangement: Arrangement::RandomisedBlocks { replicates: PLOTS / 100 },
        measures: (1..=MEASURES)
            .map(|index| Measure {
                key: format!("m{index}"),
                name: format!("Measure {index}"),
                unit: Unit::Centimetre,
                event: "Walk".to_owned(),
                method: String::new(),
                range: Some((0.0, 1e6)),
                values: ValueKind::default(),
                transformed: None,
                anchors: None,
            })
            .collect(),
        ..Plan::default()
    };
    plan.ground.plots_per_range = 100;
    plan
}

fn station(folder: &std::path::Path) -> anyhow::Result<Station> {
    let station = Station::create(folder, "Bench", now)?;
    let by = "bench".to_owned();
    station.start_trial(&SavePlan { plan: plan(), expected_version: None, by: by.clone(), reason: String::new() })?;
    station.draw_layout("BENCH", &DrawLayout { by, seed: Some("1".to_owned()), reason: String::new() })?;
    Ok(station)
}

fn table(station: &Station) -> anyhow::Result<String> {
    let rows = station.observations("BENCH", &ShowObservations::default())?.rows;
    let mut text = "plot,measure,value,unit\n".to_owned();
    for row in &rows {
        for index in 1..=MEASURES {
            writeln!(text, "{},m{index},{}.5,cm", row.plot, (row.plot as usize * 7 + index * 13) % 900)?;
        }
    }
    Ok(text)
}

/// Times three imports, each into a new station.
pub fn measure() -> anyhow::Result<Vec<Measurement>> {
    let folder = tempfile::tempdir()?;
    let mut stations: Vec<Station> =
        (0..4).map(|index| station(&folder.path().join(index.to_string()))).collect::<anyhow::Result<_>>()?;
    let bytes = table(&stations[0])?.into_bytes();
    let file = IncomingFile { name: "observations.csv".to_owned(), bytes };
    let mut accepted = Vec::new();
    let timed = Measurement::of("100,000 observations from CSV to a synced journal", 3, || {
        let station = stations.pop().expect("one station for each round");
        accepted.push(station.accept_file("BENCH", &file, "bench").map(|report| report.accepted));
    });
    let wrong = accepted
        .iter()
        .find(|answer| !matches!(answer, Ok(Some(count)) if *count == PLOTS * MEASURES))
        .map(|answer| format!("{answer:?}"));
    Ok(vec![timed.checked(wrong)])
}
