//! Invented sheets, labels, packing list and data package of the specimen trial.

use guardrow_publish::data_package::{DataPackage, Field, FieldType, ForeignKey, Resource};
use guardrow_publish::field_sheet::{Entry, FieldSheet, ScaleStep, SheetMeasure, SheetPlot};
use guardrow_publish::labels::{LabelSheet, LabelStock, PacketLabel, TREATED_CAUTION};
use guardrow_publish::packing::{PackingLine, PackingList};
use guardrow_publish::report::{Column, Row, Table};

use crate::trial;

fn strings(lines: &[&str]) -> Vec<String> {
    lines.iter().map(|line| (*line).to_string()).collect()
}

fn measure(key: &str, name: &str, unit: &str, how: &str, entry: Entry) -> SheetMeasure {
    SheetMeasure { key: key.into(), name: name.into(), unit: unit.into(), how: how.into(), entry }
}

fn scale(steps: &[(&str, &str)]) -> Entry {
    let step = |(code, meaning): &(&str, &str)| ScaleStep { code: (*code).into(), meaning: (*meaning).into() };
    Entry::Scale { steps: steps.iter().map(step).collect() }
}

fn walk() -> Vec<SheetPlot> {
    let map = trial::map();
    let mut plots: Vec<SheetPlot> = map
        .plots
        .iter()
        .filter_map(|plot| {
            Some(SheetPlot {
                plot: plot.number?,
                range: plot.range,
                pass: plot.pass,
                replicate: plot.replicate?,
                treatment: None,
            })
        })
        .collect();
    // Up one range and back the next.
    plots.sort_by_key(|plot| (plot.range, if plot.range % 2 == 1 { plot.pass } else { 100 - plot.pass }));
    plots
}

fn sheet(event: &str, due: &str, id: &str, measures: Vec<SheetMeasure>) -> FieldSheet {
    let map = trial::map();
    FieldSheet {
        trial_code: map.trial_code,
        title: map.title,
        station: map.station,
        site: map.site,
        season: map.season,
        layout_version: map.layout_version,
        event: event.into(),
        due: due.into(),
        sheet_id: id.into(),
        prepared_on: "20 May 2031".into(),
        measures,
        plots: walk(),
        walk: "Start at plot 101 with the road behind you; along range 1, back along range 2, and so on.".into(),
        instructions: strings(&[
            "Stand at the middle of the plot's long side. Write what you see, not what you expect.",
        ]),
    }
}

pub fn sheets() -> Vec<FieldSheet> {
    let number = |least: f64, most: f64, whole: bool| Entry::Number { least: Some(least), most: Some(most), whole };
    vec![
        sheet(
            "Stand count",
            "21 days after seeding",
            "BW3102-2-STAND",
            vec![
                measure(
                    "stand_a",
                    "Stand, near end",
                    "plants",
                    "1 m of row 4, 1.5 m from the plot's end",
                    number(0.0, 80.0, true),
                ),
                measure(
                    "stand_b",
                    "Stand, far end",
                    "plants",
                    "1 m of row 6, 1.5 m from the far end",
                    number(0.0, 80.0, true),
                ),
                measure(
                    "vigour",
                    "Vigour",
                    "",
                    "",
                    scale(&[
                        ("1", "barely alive"),
                        ("2", ""),
                        ("3", "even, pale"),
                        ("4", ""),
                        ("5", "closed and dark green"),
                    ]),
                ),
            ],
        ),
        sheet(
            "Before harvest",
            "when three quarters of the seeds are brown",
            "BW3102-2-RIPE",
            vec![
                measure("height", "Height", "cm", "five plants, mean", number(10.0, 180.0, false)),
                measure(
                    "lodging",
                    "Lodging",
                    "",
                    "share of the plot that leans more than 45°",
                    scale(&[("0", "none"), ("1", "a tenth"), ("3", "a third"), ("5", "half"), ("9", "flat")]),
                ),
                measure("flower_date", "Half in flower", "", "", Entry::Date),
                measure("moisture", "Grain moisture", "%", "", number(5.0, 60.0, false)),
                measure("shatter", "Shattered", "seeds", "0.1 m², between rows", number(0.0, 500.0, true)),
                measure("remark", "Cause of damage", "", "", Entry::Text),
            ],
        ),
    ]
}

pub fn labels() -> LabelSheet {
    let map = trial::map();
    let plots: Vec<_> = map.plots.iter().filter(|plot| !plot.guard).collect();
    let of = plots.len() as u32;
    let labels = plots
        .iter()
        .enumerate()
        .map(|(index, plot)| PacketLabel {
            trial_code: map.trial_code.clone(),
            plot: plot.number.unwrap_or(0).to_string(),
            sequence: index as u32 + 1,
            of,
            range: plot.range,
            pass: plot.pass,
            treatment: (index % 2 == 0).then(|| plot.treatment.clone()),
            lot: "BW-7731".into(),
            mass: format!("{:.1} g", 31.4 + index as f64),
            count: format!("{} seeds", 980 + 31 * index),
            treated: index % 3 != 1,
            code: format!("GR:{}:L2:{}:{}", map.trial_code, plot.number.unwrap_or(0), index + 1),
        })
        .collect();
    LabelSheet {
        title: "Packet labels, BW-31-02, layout 2".into(),
        stock: LabelStock::a4_3_by_8(),
        skip: 0,
        outlines: true,
        treated_caution: TREATED_CAUTION.into(),
        labels,
    }
}

pub fn packing_list() -> PackingList {
    let map = trial::map();
    let mut lots = Table::new(
        "Lots",
        vec![
            Column::left("Lot"),
            Column::right("Packets"),
            Column::right("Needed").with_unit("g"),
            Column::right("In stock").with_unit("g"),
            Column::right("Left").with_unit("g"),
        ],
    );
    lots.push(Row::plain(["BW-7731", "32", "1 503.2", "4 000.0", "2 496.8"]));
    let packets = labels()
        .labels
        .iter()
        .zip(map.plots.iter().filter(|plot| !plot.guard))
        .map(|(label, plot)| PackingLine {
            sequence: label.sequence,
            plot: label.plot.clone(),
            range: label.range,
            pass: label.pass,
            treatment: plot.treatment.clone(),
            lot: label.lot.clone(),
            mass_g: label.mass.trim_end_matches(" g").to_string(),
            count: label.count.trim_end_matches(" seeds").to_string(),
            treated: label.treated,
        })
        .collect();
    PackingList {
        trial_code: map.trial_code,
        title: map.title,
        station: map.station,
        season: map.season,
        site: map.site,
        layout_version: 2,
        prepared_on: "20 April 2031".into(),
        arithmetic: strings(&[
            "Seeds = target viable kernels/m² × gross area ÷ germination; mass = seeds × thousand-kernel weight ÷ 1000.",
            "Plot 101: 190 × 9.0 m² ÷ 0.94 = 1819 seeds; × 30.1 g ÷ 1000 = 54.8 g.",
        ]),
        lots,
        packets,
        cautions: strings(&[
            "Treated seed: gloves and mask while packing; clean the counter before untreated lots.",
            "Two spare packets per lot go into the tray after the last pass.",
        ]),
    }
}

pub fn data_package() -> DataPackage {
    let map = trial::map();
    let field = |name: &str, kind: FieldType, title: &str, unit: &str| Field {
        name: name.into(),
        kind,
        title: title.into(),
        unit: unit.into(),
        ..Field::default()
    };
    let plots = Resource {
        name: "plots".into(),
        title: "Plots".into(),
        description: "One row per plot of layout version 2.".into(),
        fields: vec![
            Field { required: true, ..field("plot", FieldType::Integer, "Plot number", "") },
            field("replicate", FieldType::Integer, "Replicate", ""),
            field("treatment", FieldType::String, "Treatment", ""),
        ],
        rows: map
            .plots
            .iter()
            .filter_map(|plot| {
                Some(vec![
                    Some(plot.number?.to_string()),
                    plot.replicate.map(|replicate| replicate.to_string()),
                    Some(plot.treatment.clone()),
                ])
            })
            .collect(),
        primary_key: strings(&["plot"]),
        foreign_keys: Vec::new(),
    };
    let observations = Resource {
        name: "observations".into(),
        title: "Observations".into(),
        description: "One row per plot and measure.".into(),
        fields: vec![
            Field { required: true, ..field("plot", FieldType::Integer, "Plot number", "") },
            Field { required: true, ..field("measure", FieldType::String, "Measure", "") },
            field("value", FieldType::Number, "Value", "t/ha"),
            field("observed_on", FieldType::Date, "Day observed", ""),
        ],
        rows: map
            .plots
            .iter()
            .filter_map(|plot| {
                Some(vec![
                    Some(plot.number?.to_string()),
                    Some("grain_yield".to_string()),
                    plot.value.map(|value| format!("{value:.3}")),
                    Some("2031-08-29".to_string()),
                ])
            })
            .collect(),
        primary_key: strings(&["plot", "measure"]),
        foreign_keys: vec![ForeignKey {
            fields: strings(&["plot"]),
            resource: "plots".into(),
            reference: strings(&["plot"]),
        }],
    };
    DataPackage {
        name: "bw-31-02".into(),
        title: map.title,
        description: "Invented data of the specimen trial.".into(),
        created: "2031-12-12T16:20:00Z".into(),
        version: "1.0.0".into(),
        licence: None,
        contributors: Vec::new(),
        resources: vec![plots, observations],
        extra_files: Vec::new(),
    }
}
