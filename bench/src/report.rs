//! The report of a split-plot with 48 plots: analysis, findings, tables and charts, then the PDF.

use guardrow_agronomy::unit::{Quantity, Unit};
use guardrow_design::{Arrangement, Factor, TreatmentStructure};
use guardrow_findings::{Claim, Comparison, Direction, Margin, Question, Side};
use guardrow_publish::document::{Paper, report_pdf};
use guardrow_station::{IncomingFile, Measure, Plan, TrialHead, ValueKind, analyse_file};

use crate::measurement::Measurement;
use crate::split_plot::experiment;

fn now() -> jiff::Timestamp {
    "2031-11-01T08:00:00Z".parse().expect("a moment")
}

fn plan() -> Plan {
    let side = |level: &str| Side { factor: Some("a".to_owned()), level: level.to_owned() };
    Plan {
        trial: TrialHead { code: "BENCH".to_owned(), title: "Bench".to_owned(), season: 2031, ..TrialHead::default() },
        question: Question {
            claims: vec![Claim {
                statement: "a3 yields more than a1".to_owned(),
                measure: "grain".to_owned(),
                comparison: Comparison { first: side("a3"), second: side("a1") },
                direction: Direction::Higher,
                margin: Some(Margin::Size(Quantity::new(100.0, Unit::KgPerHa))),
            }],
            ..Question::default()
        },
        treatments: TreatmentStructure {
            factors: vec![
                Factor::qualitative("a", &["a1", "a2", "a3"]),
                Factor::qualitative("b", &["b1", "b2", "b3", "b4"]),
            ],
            controls: Vec::new(),
        },
        arrangement: Arrangement::SplitPlot { replicates: 4, main_plot_factors: vec!["a".to_owned()] },
        measures: vec![Measure {
            key: "grain".to_owned(),
            name: "Grain yield".to_owned(),
            unit: Unit::KgPerHa,
            event: "Harvest".to_owned(),
            method: String::new(),
            range: None,
            values: ValueKind::default(),
            transformed: None,
            anchors: None,
        }],
        ..Plan::default()
    }
}

fn table() -> IncomingFile {
    let experiment = experiment();
    let mut text = "replicate,a,b,grain\n".to_owned();
    for (plot, value) in experiment.response.iter().flatten().enumerate() {
        let (a, b) = (experiment.treatment[plot] / 4 + 1, experiment.treatment[plot] % 4 + 1);
        text.push_str(&format!("{},a{a},b{b},{value}\n", experiment.units[0].1[plot] + 1));
    }
    IncomingFile { name: "bench.csv".to_owned(), bytes: text.into_bytes() }
}

/// Times the making of the report's content and of its PDF, apart.
pub fn measure() -> anyhow::Result<Vec<Measurement>> {
    let (plan, table) = (plan(), table());
    let report = analyse_file(&plan, &table, now)?;
    let content =
        Measurement::of("report content: analysis, findings, tables, charts", 20, || analyse_file(&plan, &table, now));
    let pdf = report_pdf(&report, Paper::A4)?;
    let wrong = (!pdf.starts_with(b"%PDF") || pdf != report_pdf(&report, Paper::A4)?)
        .then(|| "it is no PDF, or not the same bytes twice".to_owned());
    let print = Measurement::of("report PDF from its content", 20, || report_pdf(&report, Paper::A4));
    Ok(vec![content, print.checked(wrong)])
}
