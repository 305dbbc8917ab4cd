//! One trial the whole way through the use cases, and what they refuse.

use std::path::Path;

use guardrow_agronomy::unit::Unit;
use guardrow_findings::PremiseStatus;
use guardrow_publish::report::NoticeLevel;
use guardrow_station::*;

use crate::hollow_fen::{CODE, measure, plan, quantity, save};

fn now() -> jiff::Timestamp {
    "2031-04-01T08:00:00Z".parse().expect("a moment")
}

fn station(folder: &Path) -> Station {
    Station::create(&folder.join("station"), "Hollow Fen", now).expect("a new station")
}

fn lot() -> Lot {
    Lot {
        code: "B-1".to_owned(),
        crop: "faba bean".to_owned(),
        variety: "entry 1".to_owned(),
        thousand_kernel_weight_g: Some(520.0),
        germination_pct: Some(92.0),
        germination_tested: Some("2031-02-01".parse().expect("a day")),
        treatment: "seed dressing".to_owned(),
        on_hand: Some(quantity("20 kg")),
        caution: String::new(),
    }
}

fn drawn(folder: &Path) -> Station {
    let station = station(folder);
    station.start_trial(&save(plan())).expect("started");
    let request = DrawLayout { by: "A. Tester".to_owned(), seed: Some("42".to_owned()), reason: String::new() };
    station.draw_layout(CODE, &request).expect("drawn");
    station
}

fn options(event: Option<&str>) -> DocumentOptions {
    DocumentOptions { by: "A. Tester".to_owned(), event: event.map(str::to_owned), ..DocumentOptions::default() }
}

fn csv(name: &str, text: &str) -> IncomingFile {
    IncomingFile { name: name.to_owned(), bytes: text.as_bytes().to_vec() }
}

/// A harvest in which straw yields clearly more: the mass follows the treatment, with a little spread by plot.
fn harvest_csv(station: &Station) -> String {
    let table = station.observations(CODE, &ShowObservations::default()).expect("a table");
    let mut text =
        "plot;treatment;stand;harvest_mass (kg);harvest_moisture;harvested_length;harvested_width\n".to_owned();
    for (index, row) in table.rows.iter().enumerate() {
        let treatment = row.treatment.clone().expect("an open table");
        let straw = if treatment.contains("straw") { 0.9 } else { 0.0 };
        let spread = ((index * 7) % 5) as f64 * 0.03;
        let mass = 4.2 + straw + spread;
        let stand = 38.0 + straw * 6.0 + spread * 10.0;
        let line = format!("{};{};{:.2};{:.3};15,5;7,02;1,5\n", row.plot, treatment, stand, mass);
        text.push_str(&line.replace('.', ","));
    }
    text
}

#[test]
fn a_trial_goes_from_question_to_report() {
    let folder = tempfile::tempdir().expect("a folder");
    let station = drawn(folder.path());
    let view = station.trial(CODE).expect("the trial");
    assert_eq!(view.stage, Stage::LaidOut);
    assert!(view.remarks.iter().any(|remark| remark.place == "question.rivals[0].measure"), "{:?}", view.remarks);
    let skeleton = view.skeleton.expect("a skeleton");
    // 4 replicates, 2 main plots, 2 plots: error df (r-1)(a-1) = 3 and a(r-1)(b-1) = 6.
    assert_eq!(skeleton.strata.iter().map(|stratum| stratum.error_df).collect::<Vec<_>>(), [3, 3, 6]);

    station.save_lot(&SaveLot { lot: lot(), by: "A. Tester".to_owned(), reason: String::new() }).expect("a lot");
    let packets = station.packets(CODE).expect("packets");
    assert_eq!(packets.packets.len(), 16);
    // 45 plants/m2 / (0.92 x 0.85) x 12 m2 x 1.05 x 520 / 1000 = 377.04 g (handbook of plot arithmetic, 2.5).
    assert!((packets.packets[0].grams - 377.0).abs() < 0.06, "{}", packets.packets[0].grams);

    let labels = station.make_document(CODE, DocumentKind::PacketLabels, &options(None)).expect("labels");
    assert!(station.publication(&labels.file).expect("the file").is_file());
    assert_eq!(station.trial(CODE).expect("the trial").stage, Stage::InSeason);

    let judged = JudgePremise {
        by: "A. Tester".to_owned(),
        status: PremiseStatus::Occurred,
        evidence: "gauge at the field: 2 mm in ten days".to_owned(),
    };
    let view = station.judge_premise(CODE, &judged).expect("judged");
    assert!(!view.premise.expect("a judgement").after_yields);

    let file = csv("harvest.csv", &harvest_csv(&station));
    let report = station.check_file(CODE, &file).expect("checked");
    assert!(report.acceptable, "{:#?}", report.remarks);
    assert_eq!(report.counts.iter().map(|(_, count)| count).sum::<usize>(), 16 * 5);
    let accepted = station.accept_file(CODE, &file, "A. Tester").expect("accepted");
    assert_eq!(accepted.accepted, Some(80));
    let again = station.accept_file(CODE, &file, "A. Tester").expect_err("the same file twice");
    assert_eq!(again.kind, ErrorKind::Refused);

    let harvest = station.harvest(CODE).expect("yields");
    // 4.2 kg at 15.5 % from 7.02 m x 1.5 m: 4.2 / 10.53 x 10000 = 3988.6 raw; x 84.5 / 84 at 16 % = 4012.3.
    let first = harvest.lines.iter().min_by(|a, b| a.raw.partial_cmp(&b.raw).expect("numbers")).expect("lines");
    assert!((first.raw.expect("raw") - 3988.6).abs() < 0.1, "{first:?}");
    assert!((first.standard.expect("standard") - 3988.604 * 84.5 / 84.0).abs() < 0.1, "{first:?}");

    let report = station.report(CODE).expect("a report");
    assert_eq!(report.findings[0].verdict.word, "supported");
    assert!(report.findings[0].sentence.contains("Low Field, 2031"), "{}", report.findings[0].sentence);
    let notices = &report.responses[0].notices;
    let technical: Vec<bool> = notices.iter().map(|notice| notice.level == NoticeLevel::Technical).collect();
    assert!(technical.is_sorted() && technical.contains(&false), "what matters is told first: {notices:?}");
    // Blocks vary less than plots here, so that both methods speak of their variance.
    let of_blocks = notices.iter().filter(|notice| notice.text.contains("variance of"));
    assert_eq!(of_blocks.count(), 1, "it is told once: {notices:?}");
    let printed = station.make_document(CODE, DocumentKind::Report, &options(None)).expect("printed");
    let bytes = std::fs::read(station.publication(&printed.file).expect("file")).expect("bytes");
    assert!(bytes.starts_with(b"%PDF"));
    let package = station.make_document(CODE, DocumentKind::DataPackage, &options(None)).expect("a package");
    assert!(package.file.ends_with("-data.zip"), "{}", package.file);
}

#[test]
fn a_locked_layout_is_drawn_again_only_with_a_reason_and_the_old_one_stays() {
    let folder = tempfile::tempdir().expect("a folder");
    let station = drawn(folder.path());
    let first = station.layout(CODE, None).expect("layout");
    station.make_document(CODE, DocumentKind::FieldSheet, &options(Some("Stand count"))).expect("a sheet");
    let again = DrawLayout { by: "A. Tester".to_owned(), seed: Some("43".to_owned()), reason: String::new() };
    let refused = station.draw_layout(CODE, &again).expect_err("locked");
    assert_eq!(refused.kind, ErrorKind::Locked);
    let second =
        station.draw_layout(CODE, &DrawLayout { reason: "stakes were lost".to_owned(), ..again }).expect("drawn");
    assert_eq!(second.line.version, 2);
    assert_eq!(station.layout(CODE, Some(1)).expect("the old one").layout, first.layout);
    let mut changed = plan();
    changed.ground.plot_length_m = 9.0;
    station.make_document(CODE, DocumentKind::FieldSheet, &options(Some("Stand count"))).expect("a sheet");
    let refused = station.save_plan(CODE, &save(changed)).expect_err("locked");
    assert_eq!(refused.kind, ErrorKind::Locked);
}

#[test]
fn corrections_keep_what_was_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let station = drawn(folder.path());
    let plot = station.layout(CODE, None).expect("layout").layout.in_number_order()[0].number.expect("a number");
    let typed = |text: &str| TypedValue {
        plot,
        measure: "stand".to_owned(),
        text: text.to_owned(),
        replaces: None,
        reason: String::new(),
    };
    let values = |values: Vec<TypedValue>| TypedValues { by: "A. Tester".to_owned(), observed_on: None, values };
    let table = station.record(CODE, &values(vec![typed("38,5")])).expect("recorded");
    let cell =
        |table: &ObservationTable| table.rows.iter().find(|row| row.plot == plot).expect("the row").cells[0].clone();
    let entry = cell(&table)[0].clone();
    assert_eq!(entry.value, Some(38.5));
    let over = station.record(CODE, &values(vec![typed("40")])).expect_err("already recorded");
    assert!(over.remarks[0].what.contains("already recorded"), "{over:?}");
    let correction = TypedValue { replaces: Some(entry.id), ..typed("lost") };
    let no_reason = station.record(CODE, &values(vec![correction.clone()])).expect_err("no reason");
    assert!(no_reason.remarks[0].what.contains("reason"));
    let correction = TypedValue { reason: "the tag was lost".to_owned(), ..correction };
    let table = station.record(CODE, &values(vec![correction.clone()])).expect("corrected");
    assert_eq!(cell(&table)[0].status, Status::Lost);
    assert_eq!(station.history(CODE, plot, "stand").expect("history").len(), 2);
    let stale = station.record(CODE, &values(vec![correction])).expect_err("stale");
    assert!(stale.remarks[0].what.contains("no longer the current one"), "{stale:?}");
}

#[test]
fn bad_rows_are_named_and_nothing_is_written() {
    let folder = tempfile::tempdir().expect("a folder");
    let station = drawn(folder.path());
    let layout = station.layout(CODE, None).expect("layout");
    let plot = layout.layout.in_number_order()[0].clone();
    let number = plot.number.expect("a number");
    let label = layout.treatments[plot.treatment.expect("a treatment")].clone();
    let misspelt = format!("{label}x");
    let cases = [
        ("plot,stand\n999,30\n".to_owned(), "not in the layout"),
        (format!("plot,stand\n{number},30\n{number},31\n"), "twice"),
        (format!("plot,stand\n{number},-3\n"), "negative"),
        (format!("plot,harvest_moisture\n{number},120\n"), "outside"),
        (format!("plot,stand\n{number},many\n"), "not a number"),
        (format!("plot,treatment,stand\n{number},\"{misspelt}\",30\n"), "not a treatment"),
        (format!("plot,measure,value,unit\n{number},stand,30,wibbles\n"), "wibbles"),
        (format!("plot,measure,value\n{number},stnd,30\n"), "not a measure"),
        (format!("plot,date,stand\n{number},31.6.2031,30\n"), "not a day"),
    ];
    for (text, expected) in cases {
        let file = csv("bad.csv", &text);
        let report = station.check_file(CODE, &file).expect("a report");
        assert!(!report.acceptable, "{text}");
        let told: Vec<&str> = report.remarks.iter().map(|remark| remark.what.as_str()).collect();
        assert!(told.iter().any(|what| what.contains(expected)), "{text}: {told:?}");
        assert!(report.remarks[0].place.contains("line"), "{:?}", report.remarks[0]);
        let refused = station.accept_file(CODE, &file, "A. Tester").expect_err(&text);
        assert_eq!(refused.kind, ErrorKind::Refused);
    }
    let table = station.observations(CODE, &ShowObservations::default()).expect("a table");
    assert!(table.rows.iter().all(|row| row.cells.iter().all(Vec::is_empty)), "nothing was written");
    let bytes = (0..50_000_000_u32).map(|index| (index.wrapping_mul(31) % 251) as u8).collect();
    let garbage = IncomingFile { name: "garbage.csv".to_owned(), bytes };
    let refused = station.check_file(CODE, &garbage).expect_err("garbage");
    assert_eq!(refused.kind, ErrorKind::NotUnderstood);
    let half = IncomingFile { name: "half.xlsx".to_owned(), bytes: b"PK\x03\x04 and then nothing".to_vec() };
    assert_eq!(station.check_file(CODE, &half).expect_err("half").kind, ErrorKind::NotUnderstood);
}

#[test]
fn a_field_workbook_of_an_older_layout_or_another_trial_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let station = drawn(folder.path());
    let made = station.make_document(CODE, DocumentKind::FieldWorkbook, &options(None)).expect("a workbook");
    let bytes = std::fs::read(station.publication(&made.file).expect("file")).expect("bytes");
    let file = IncomingFile { name: "sheet.xlsx".to_owned(), bytes };
    let empty = station.check_file(CODE, &file).expect("read");
    assert!(!empty.acceptable, "an empty sheet holds nothing to accept");
    let mut other = plan();
    other.trial.code = "HF-31-2".to_owned();
    station.start_trial(&save(other)).expect("another trial");
    let request = DrawLayout { by: "A. Tester".to_owned(), seed: None, reason: String::new() };
    station.draw_layout("HF-31-2", &request).expect("drawn");
    let refused = station.check_file("HF-31-2", &file).expect_err("another trial");
    assert!(refused.what.contains(CODE), "{refused:?}");
    let again = DrawLayout { reason: "moved to other ground".to_owned(), ..request };
    station.draw_layout(CODE, &again).expect("drawn again");
    let refused = station.check_file(CODE, &file).expect_err("an older layout");
    assert!(refused.what.contains("layout version 1"), "{refused:?}");
}

#[test]
fn a_trial_laid_out_elsewhere_is_analysed_from_plan_and_table() {
    let mut plan = plan();
    plan.harvest = None;
    plan.supply = None;
    plan.question.claims[0].measure = "grain".to_owned();
    plan.measures.push(measure("grain", "Grain yield", Unit::KgPerHa, "Harvest"));
    plan.question.premise = None;
    let mut text = "replicate,cover,depth,stand,grain\n".to_owned();
    let mut spread =
        [31.0, -12.0, 8.0, 44.0, -27.0, 3.0, 19.0, -41.0, 15.0, -6.0, 38.0, -22.0, 11.0, 29.0, -35.0, 2.0].into_iter();
    for replicate in 1..=4 {
        for (cover, gain) in [("bare", 0.0), ("straw", 600.0)] {
            for depth in [4, 8] {
                let noise = spread.next().expect("one for each plot");
                text.push_str(&format!(
                    "{replicate},{cover},{depth},{},{}\n",
                    38 + replicate % 3,
                    3000.0 + gain + noise
                ));
            }
        }
    }
    let report = analyse_file(&plan, &csv("t.csv", &text), now).expect("a report");
    let notices: Vec<_> = report.responses.iter().map(|response| (&response.key, &response.notices)).collect();
    assert_eq!(report.findings[0].verdict.word, "supported", "{notices:?}");
    let misspelt = text.replacen("2,straw,8", "2,strw,8", 1);
    let refused = analyse_file(&plan, &csv("t.csv", &misspelt), now).expect_err("a misspelt level");
    assert!(refused.remarks[0].try_this.contains("straw"), "{refused:?}");
    let folder = tempfile::tempdir().expect("a folder");
    let station = station(folder.path());
    let view = station.bring_in(&plan, &csv("t.csv", &text), "A. Tester").expect("brought in");
    assert_eq!(view.stage, Stage::Observed);
    assert_eq!(station.report(CODE).expect("a report").findings[0].verdict.word, "supported");
}
