//! What a report says of residuals, simple effects and predictions.

use guardrow_publish::chart::Chart;
use guardrow_publish::report::{Report, Table};
use guardrow_station::{IncomingFile, analyse_file, read_plan_file};

const FACTORIAL: &str = r#"
format = "guardrow plan 1"
[trial]
code = "LK-1"
title = "Two by two"
season = 2026
[[treatments.factors]]
name = "cover"
levels = [{ label = "bare" }, { label = "straw" }]
[[treatments.factors]]
name = "depth"
levels = [{ label = "3" }, { label = "6" }]
[arrangement]
kind = "randomised_blocks"
replicates = 5
[[measures]]
key = "yield"
name = "Yield"
unit = "t/ha"
event = "harvest"
[table]
replicate = "block"
"#;

/// Straw helps at 6 cm only. Without `odd` the errors are small and alike.
fn table(odd: bool) -> String {
    let noise = [0.1, -0.05, 0.02, -0.08, 0.04, -0.03, 0.07, -0.06, 0.05, -0.01];
    let mut rows = vec!["block,cover,depth,range,pass,yield".to_owned()];
    for block in 0..5usize {
        for (place, (cover, depth, mean)) in
            [("bare", "3", 3.0), ("straw", "3", 3.0), ("bare", "6", 2.0), ("straw", "6", 4.0)].into_iter().enumerate()
        {
            let value = mean + 0.3 * block as f64 + noise[(block * 3 + place * 7) % 10];
            let value = if odd && (block, place) == (2, 1) { value + 3.0 } else { value };
            rows.push(format!("{},{cover},{depth},{},{},{value:.2}", block + 1, block + 1, place + 1));
        }
    }
    rows.join("\n")
}

fn report(plan: &str, table: String) -> Report {
    let plan = read_plan_file("plan.toml", plan).unwrap_or_else(|error| panic!("{error:?}"));
    let table = IncomingFile { name: "table.csv".to_owned(), bytes: table.into_bytes() };
    analyse_file(&plan, &table, jiff::Timestamp::now).unwrap_or_else(|error| panic!("{error:?}"))
}

fn named<'a>(tables: &'a [Table], start: &str) -> Option<&'a Table> {
    tables.iter().find(|table| table.caption.starts_with(start))
}

#[test]
fn a_plot_out_of_line_is_told_and_kept() {
    let report = report(FACTORIAL, table(true));
    let looking = &report.responses[0].looking;
    let outliers = named(&looking.tables, "Plots out of line").expect("one plot is out of line");
    // The second row of the third block: rows are numbered from 1.
    assert_eq!(outliers.rows.len(), 1);
    assert_eq!(outliers.rows[0].cells[..2], ["10", "straw, 3"]);
    let told: f64 = outliers.rows[0].cells[2].parse().expect("its value");
    assert!((told - 6.6).abs() < 0.2, "{told}");
    assert!(outliers.notes.concat().contains("leaves out nothing"));
    assert_eq!((report.responses[0].n, report.responses[0].missing), (20, 0));
}

#[test]
fn plots_in_line_are_told_in_a_sentence() {
    let report = report(FACTORIAL, table(false));
    let looking = &report.responses[0].looking;
    assert!(looking.sentences[0].starts_with("No plot is out of line"), "{:?}", looking.sentences);
    assert!(named(&looking.tables, "Plots out of line").is_none());
}

/// Where the table says nothing of the ground, a map of residuals would show patches that are none.
#[test]
fn the_map_of_residuals_needs_the_places_of_the_plots() {
    let without = report(FACTORIAL, table(false));
    assert_eq!(without.responses[0].looking.map, None);
    let with = report(&format!("{FACTORIAL}range = \"range\"\npass = \"pass\"\n"), table(false));
    let map = with.responses[0].looking.map.as_ref().expect("the places are known");
    let Chart::PlotMap(map) = &map.chart else { panic!("a plot map") };
    let sum: f64 = map.plots.iter().filter_map(|plot| plot.value).sum();
    assert!(map.plots.iter().all(|plot| plot.value.is_some()) && sum.abs() < 1e-9, "{sum}");
}

#[test]
fn simple_effects_stand_where_two_factors_interact() {
    let report = report(FACTORIAL, table(false));
    let effects = named(&report.responses[0].means, "Simple effects").expect("the factors interact");
    let at = |head: &str, level: &str| {
        let mut rows = effects.rows.iter().skip_while(|row| row.cells[0] != head).skip(1);
        rows.find(|row| row.cells[0] == level).unwrap_or_else(|| panic!("{head}: {level}"))
    };
    let cells = &at("cover at each level of depth", "6").cells;
    assert_eq!(cells[1], "bare − straw");
    let estimate: f64 = cells[2].parse().expect("a number");
    assert!((estimate + 2.0).abs() < 0.15, "{estimate}");
    assert_eq!(cells[6], "< 0.001");
    let nothing: f64 = at("cover at each level of depth", "3").cells[2].parse().expect("a number");
    assert!(nothing.abs() < 0.15, "{nothing}");
}

const PLACES: &str = r#"
format = "guardrow plan 1"
[trial]
code = "VSY-1"
title = "Varieties at sites over years"
season = 2026
[[treatments.factors]]
name = "variety"
levels = [
    { label = "A" }, { label = "B" }, { label = "C" }, { label = "D" }, { label = "E" }, { label = "F" }, { label = "G" },
]
[arrangement]
kind = "stated"
replicates = 18
units = "(site x year) / block / plot"
environments = ["site", "year"]
scope = "environments_like_these"
[[measures]]
key = "yield"
name = "Yield"
unit = "index"
event = "harvest"
"#;

#[test]
fn treatments_in_places_are_predicted_and_blocks_are_not() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/varieties-sites-years/data.csv");
    let report = report(PLACES, std::fs::read_to_string(path).expect("the case has a table"));
    let means = &report.responses[0].means;
    let predicted: Vec<&str> = means.iter().filter_map(|table| table.caption.strip_prefix("Predictions: ")).collect();
    assert!(predicted.contains(&"site x variety"), "{predicted:?}");
    assert!(!predicted.iter().any(|term| term.contains("block") || !term.contains("variety")), "{predicted:?}");
    let places = named(&report.responses[0].looking.tables, "Error of each place").expect("several places");
    assert_eq!(places.rows.len(), 6);
}
