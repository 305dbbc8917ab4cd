//! Responses to amounts in a report: what is drawn, and what is said of the amounts that pay.

use guardrow_publish::chart::{BestKind, Chart, ResponseCurveChart};
use guardrow_publish::report::Report;
use guardrow_station::{IncomingFile, analyse_file, read_plan_file};

const PLAN: &str = r#"
format = "guardrow plan 1"
[trial]
code = "SP-1"
title = "Variety and nitrogen"
season = 2026
currency = "EUR"
[[treatments.factors]]
name = "variety"
levels = [{ label = "early" }, { label = "mid" }, { label = "late" }]
[[treatments.factors]]
name = "rate"
scale = { kind = "quantitative", unit = "kg/ha" }
levels = [
    { label = "0", amount = 0.0 }, { label = "40", amount = 40.0 }, { label = "80", amount = 80.0 },
    { label = "120", amount = 120.0 }, { label = "160", amount = 160.0 },
]
[arrangement]
kind = "split_plot"
replicates = 4
main_plot_factors = ["variety"]
[[measures]]
key = "yield"
name = "Grain yield"
unit = "t/ha"
event = "harvest"
[table]
replicate = "block"
"#;

const MONEY: &str = r#"
[money]
price = "180 EUR/t"
costs = [{ factor = "rate", amount = 50.0, cost = "60 EUR/ha" }]
"#;

/// Invented curves that rise to different heights at different speeds, in a split-plot.
fn report(plan: &str) -> Report {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/response-curves/split_plot.csv");
    let bytes = std::fs::read(path).expect("the case has a table");
    let plan = read_plan_file("plan.toml", plan).unwrap_or_else(|error| panic!("{error:?}"));
    let table = IncomingFile { name: "split_plot.csv".to_owned(), bytes };
    analyse_file(&plan, &table, jiff::Timestamp::now).unwrap_or_else(|error| panic!("{error:?}"))
}

fn curves(report: &Report) -> &ResponseCurveChart {
    let charts = report.responses[0].figures.iter().map(|figure| &figure.chart);
    let found = charts.filter_map(|chart| match chart {
        Chart::ResponseCurve(chart) => Some(chart),
        _ => None,
    });
    let [chart] = found.collect::<Vec<_>>()[..] else { panic!("one chart of curves") };
    chart
}

#[test]
fn every_level_has_its_curve_with_all_its_plots() {
    let report = report(PLAN);
    let chart = curves(&report);
    let labels: Vec<&str> = chart.panels.iter().map(|panel| panel.label.as_str()).collect();
    assert_eq!(labels, ["variety early", "variety mid", "variety late"]);
    for panel in &chart.panels {
        assert_eq!((panel.plots.len(), panel.means.len()), (20, 5));
        // The mean of the plots at an amount is the mean that is drawn there.
        let at = |amount: f64| panel.plots.iter().filter(move |plot| plot.amount == amount).map(|plot| plot.value);
        for mean in &panel.means {
            assert!((at(mean.amount).sum::<f64>() / 4.0 - mean.mean).abs() < 1e-9, "{}", panel.label);
        }
        let inside = |point: &guardrow_publish::chart::CurvePoint| {
            point.lower.expect("an interval") < point.value && point.value < point.upper.expect("an interval")
        };
        assert!(panel.course.len() > 40 && panel.course.iter().all(inside));
    }
    let said = report.responses[0].precision.join("\n");
    assert!(said.contains("The response to rate differs by variety"), "{said}");
}

#[test]
fn without_prices_no_amount_is_said_to_pay() {
    let report = report(PLAN);
    let marks = curves(&report).panels.iter().flat_map(|panel| &panel.best);
    assert!(marks.into_iter().all(|mark| mark.kind == BestKind::Response));
    assert!(!report.responses[0].precision.join("\n").contains("return"));
}

// By hand: 60 EUR for 50 kg/ha over 180 EUR/t is 6.667 kg of grain for each kg/ha, 0.006667 t. On the invented curve of `late`,
// 3 + 5.6 (1 - exp(-0.02 x)), the slope is that where exp(-0.02 x) = 0.006667 / (5.6 x 0.02) = 0.05952, at x = 141.
#[test]
fn with_prices_the_amount_that_pays_is_said_and_drawn() {
    let report = report(&format!("{PLAN}{MONEY}"));
    let late = &curves(&report).panels[2];
    let mark = late.best.iter().find(|mark| mark.kind == BestKind::Return).expect("an amount that pays");
    let (lower, upper) = (mark.lower.expect("a lower end"), mark.upper.expect("an upper end"));
    assert!(lower < 141.0 && 141.0 < upper && lower < mark.amount && mark.amount < upper, "{mark:?}");
    // The slope of the drawn curve there is what a unit of the amount must bring.
    let (one, other) =
        late.course.windows(2).map(|pair| (pair[0], pair[1])).find(|pair| pair.1.amount > mark.amount).unwrap();
    let slope = (other.value - one.value) / (other.amount - one.amount);
    assert!((slope / 0.006667 - 1.0).abs() < 0.1, "{slope}");
    let said = report.responses[0].precision.join("\n");
    assert!(said.contains("a cost of 60 EUR/ha for 50 kg/ha and a price of 180 EUR/t: at early "), "{said}");
}
