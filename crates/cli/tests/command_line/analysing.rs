//! A trial laid out elsewhere, analysed by one command.

use crate::terminal::Desk;
use serde_json::Value;

// By hand: the differences are 0.6, 0.9, 0.3, 1.0; their mean is 0.7, their variance 0.30/3 = 0.10, so that the
// standard error of the mean difference is sqrt(0.10/4) = 0.1581 with 3 degrees of freedom, t = 4.427 and F = 19.6.
// Student's t at 97.5 % with 3 df is 3.182 (any table): the 95 % interval is 0.197 to 1.203; with 2.353 the 90 %
// interval is 0.328 to 1.072. The margin is 0.15, and the whole interval lies above it. p = 0.0214 (scipy
// 1.17.1: `stats.ttest_1samp` of the four differences).
#[test]
fn the_report_in_json_holds_the_numbers_worked_by_hand() {
    let desk = Desk::with_plan_and_table();
    let answer = desk.done(&["analyse", "plan.toml", "table.csv", "--json"]);
    let report: Value = serde_json::from_str(&answer.out).expect("JSON");
    let finding = &report["report"]["findings"][0];
    assert_eq!(finding["verdict"]["kind"], "supported");
    let numbers = finding["numbers"].as_str().expect("text");
    for number in ["0.70", "0.20", "1.20"] {
        assert!(numbers.contains(number), "{number} in {numbers}");
    }
    assert_eq!(report["report"]["question"]["margin"], "0.15 t/ha");
    let tests = report["report"]["responses"][0]["tests"].to_string();
    assert!(tests.contains("\"19.60\"") && tests.contains("\"0.021\""), "{tests}");
}

#[test]
fn the_report_in_words_begins_with_the_verdict() {
    let desk = Desk::with_plan_and_table();
    let out = desk.done(&["analyse", "plan.toml", "table.csv"]).out;
    // What follows names the day and the version.
    let (told, made) = out.split_once("\nHow these numbers were made\n").expect("the report says how it was made");
    assert!(made.contains(env!("CARGO_PKG_VERSION")), "{made}");
    insta::assert_snapshot!("analyse", told);
}

#[test]
fn report_and_charts_are_written_beside_the_answer() {
    let desk = Desk::with_plan_and_table();
    let answer =
        desk.done(&["analyse", "plan.toml", "table.csv", "--json", "--report", "report.pdf", "--out", "results"]);
    let in_json: Value = serde_json::from_str(&answer.out).expect("standard output is JSON and nothing else");
    let pdf = std::fs::read(desk.path("report.pdf")).expect("a report");
    assert!(pdf.starts_with(b"%PDF-") && pdf.len() > 5_000, "{} bytes", pdf.len());
    let written: Value =
        serde_json::from_slice(&std::fs::read(desk.path("results/report.json")).expect("a report")).expect("JSON");
    assert_eq!(written, in_json);
    let chart = std::fs::read_to_string(desk.path("results/grain-1.svg")).expect("a chart");
    assert!(chart.starts_with("<svg"), "{}", &chart[..chart.len().min(80)]);
}

#[test]
fn a_trial_brought_in_has_the_same_findings_as_one_analysed_without_a_station() {
    let desk = Desk::with_plan_and_table();
    desk.done(&["new", "st", "--name", "Test Station"]);
    desk.done(&["bring-in", "st", "plan.toml", "table.csv", "--by", "Kim"]);
    let json = |answer: String| -> Value { serde_json::from_str(&answer).expect("JSON") };
    let brought = json(desk.done(&["findings", "st", "T-1", "--json"]).out);
    let alone = json(desk.done(&["analyse", "plan.toml", "table.csv", "--json"]).out);
    assert_eq!(brought["report"]["findings"], alone["report"]["findings"]);
    assert!(!brought["report"]["findings"].as_array().expect("a list").is_empty());
}

#[test]
fn a_station_keeps_the_plan_file_that_it_was_given() {
    let desk = Desk::with_laid_out_trial();
    let printed = desk.done(&["plan", "st", "T-1"]).out;
    desk.write("again.toml", &printed);
    let one = guardrow_station::read_plan_file("plan.toml", crate::terminal::PLAN).expect("a plan");
    let other = guardrow_station::read_plan_file("again.toml", &printed).expect("a plan");
    assert_eq!(one, other);
}
