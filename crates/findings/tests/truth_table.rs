//! The table of verdicts as data: every line, its edges, every premise, with and without direction.

use std::collections::BTreeSet;

use guardrow_findings::{Bounds, Interval, Judgement, PremiseStatus, Sidedness, Verdict, judge_bounds};
use serde::de::DeserializeOwned;

const TABLE: &str = include_str!("truth_table.csv");

struct Row {
    case: String,
    bounds: Bounds,
    margin: Option<f64>,
    premise: PremiseStatus,
    sidedness: Sidedness,
    expected: [String; 5],
}

fn rows() -> Vec<Row> {
    TABLE.lines().skip(1).map(row).collect()
}

fn row(line: &str) -> Row {
    let cells: Vec<&str> = line.split(',').collect();
    assert_eq!(cells.len(), 14, "{line}");
    let number = |index: usize| cells[index].parse::<f64>().unwrap_or_else(|_| panic!("{line}"));
    let interval = |level: f64, from: usize| Interval { level, lower: number(from), upper: number(from + 1) };
    Row {
        case: cells[0].to_owned(),
        bounds: Bounds { estimate: number(1), interval: interval(0.95, 2), equivalence: interval(0.90, 4) },
        margin: (!cells[6].is_empty()).then(|| number(6)),
        premise: word(cells[7]),
        sidedness: word(cells[8]),
        expected: [9, 10, 11, 12, 13].map(|index| cells[index].to_owned()),
    }
}

/// The value that serialises as `text`.
fn word<T: DeserializeOwned>(text: &str) -> T {
    serde_json::from_value(serde_json::Value::String(text.to_owned())).unwrap_or_else(|error| panic!("{text}: {error}"))
}

fn text<T: serde::Serialize>(value: &Option<T>) -> String {
    let json = value.as_ref().map(|value| serde_json::to_value(value).unwrap());
    json.map(|json| json.as_str().map(str::to_owned).unwrap_or_else(|| json.to_string())).unwrap_or_default()
}

fn told(judgement: &Judgement) -> [String; 5] {
    let Judgement { line, verdict, conditional, strength, reachable, .. } = judgement;
    [line.to_string(), text(verdict), text(conditional), text(strength), text(reachable)]
}

#[test]
fn every_row_of_the_truth_table_is_judged_as_it_stands() {
    for Row { case, bounds, margin, premise, sidedness, expected } in rows() {
        assert_eq!(told(&judge_bounds(bounds, margin, sidedness, premise)), expected, "{case}");
    }
}

#[test]
fn the_rows_are_sound_intervals() {
    for Row { case, bounds: Bounds { estimate, interval, equivalence }, .. } in rows() {
        let order = [interval.lower, equivalence.lower, estimate, equivalence.upper, interval.upper];
        assert!(order.is_sorted(), "{case}: {order:?}");
    }
}

#[test]
fn the_rows_reach_every_line_strength_premise_and_verdict() {
    let mut lines = BTreeSet::new();
    let mut seen = BTreeSet::new();
    for Row { bounds, margin, premise, sidedness, .. } in rows() {
        let judgement = judge_bounds(bounds, margin, sidedness, premise);
        lines.insert((text(&Some(sidedness)), judgement.line));
        seen.extend([text(&judgement.verdict), text(&judgement.strength), text(&Some(premise))]);
    }
    let directed = (0..=6).map(|line| ("directed".to_owned(), line));
    let either = [0, 1, 2, 3, 6].map(|line| ("either".to_owned(), line));
    assert_eq!(lines, directed.chain(either).collect());
    let words = "supported contradicted first_better second_better no_difference_that_matters undecided never_tested \
                 at_least_the_margin direction_sure real_but_smaller loss_not_excluded \
                 occurred did_not_occur cannot_tell none_needed";
    for word in words.split_whitespace() {
        assert!(seen.contains(word), "no row is {word}");
    }
}

#[test]
fn without_direction_exchanging_the_options_exchanges_the_verdict() {
    for Row { case, bounds, margin, premise, .. } in rows() {
        let forward = judge_bounds(bounds, margin, Sidedness::Either, premise);
        let backward = judge_bounds(bounds.mirrored(), margin, Sidedness::Either, premise);
        let exchanged = |verdict| match verdict {
            Some(Verdict::FirstBetter) => Some(Verdict::SecondBetter),
            Some(Verdict::SecondBetter) => Some(Verdict::FirstBetter),
            other => other,
        };
        assert_eq!(exchanged(forward.verdict), backward.verdict, "{case}");
        assert_eq!(exchanged(forward.conditional), backward.conditional, "{case}");
        assert_eq!((forward.line, forward.strength), (backward.line, backward.strength), "{case}");
    }
}
