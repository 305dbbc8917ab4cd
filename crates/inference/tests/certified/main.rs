//! Certified sets: how many digits agree.
//!
//! Source: NIST Statistical Reference Datasets; golden values in `tests/reference/nist`, by exact rational arithmetic on the decimal
//! data. The log relative error is minus the decimal logarithm of the relative error (of the absolute one where the value is
//! zero), at most 15 since the golden values are doubles. The table of `docs/numbers/certified-sets.md` is held against what is
//! found here; `GUARDROW_REFRESH_TABLES=1` writes it anew.

use guardrow_design::{BlockStructure, Factor, Level, Scale, TreatmentStructure};
use guardrow_inference::{Experiment, Options, RESIDUAL, analyse, regress};
use serde_json::Value;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// Digits of each quantity of one set.
struct Digits {
    set: &'static str,
    kind: &'static str,
    /// Least number of digits that must agree.
    goal: f64,
    found: Vec<(&'static str, f64)>,
}

impl Digits {
    fn least(&self) -> f64 {
        self.found.iter().map(|it| it.1).fold(15.0, f64::min)
    }

    fn row(&self) -> String {
        let found: Vec<String> = self.found.iter().map(|(name, digits)| format!("{name} {digits:.1}")).collect();
        format!("| {} | {} | {:.1} | {} | {} |", self.set, self.kind, self.least(), self.goal, found.join(", "))
    }
}

fn folder(set: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/nist").join(set)
}

fn golden(set: &str) -> Value {
    let text = std::fs::read_to_string(folder(set).join("expected.json")).expect("the set has golden values");
    serde_json::from_str(&text).expect("golden values are JSON")
}

fn rows(set: &str) -> Vec<HashMap<String, String>> {
    let mut table = csv::Reader::from_path(folder(set).join("data.csv")).expect("the set has a table");
    table.deserialize().collect::<Result<_, _>>().expect("every row has every column")
}

fn digits(found: f64, golden: f64) -> f64 {
    let miss = (found - golden).abs() / if golden == 0.0 { 1.0 } else { golden.abs() };
    if miss == 0.0 { 15.0 } else { (-miss.log10()).clamp(0.0, 15.0) }
}

fn least<'a>(found: impl Iterator<Item = f64>, golden: impl Iterator<Item = &'a Value>) -> f64 {
    found.zip(golden).map(|(found, golden)| digits(found, golden.as_f64().expect("a number"))).fold(15.0, f64::min)
}

fn one_way(set: &'static str, kind: &'static str, goal: f64) -> Digits {
    let rows = rows(set);
    let mut labels: Vec<&str> = Vec::new();
    for row in &rows {
        if !labels.contains(&row["treatment"].as_str()) {
            labels.push(&row["treatment"]);
        }
    }
    let treatment = rows.iter().map(|row| labels.iter().position(|it| *it == row["treatment"]).expect("listed above"));
    let levels = labels.iter().map(|label| Level { label: (*label).into(), amount: None }).collect();
    let factor = Factor { name: "treatment".into(), scale: Scale::Qualitative, levels };
    let experiment = Experiment::new(
        BlockStructure::unit("plot"),
        Vec::new(),
        TreatmentStructure { factors: vec![factor], controls: Vec::new() },
        treatment.collect(),
        rows.iter().map(|row| row["response"].parse().ok()).collect(),
    );
    let analysis = analyse(&experiment, &Options::default()).expect("the set can be analysed");
    let plots = analysis.strata.as_ref().expect("one stratum").stratum("plot").expect("plots");
    let (between, within) = (plots.row("treatment").expect("a row"), plots.row(RESIDUAL).expect("a row"));
    let golden = golden(set);
    let number = |key: &str| golden["computed"][key].as_f64().unwrap_or_else(|| panic!("{set} has no {key}"));
    Digits {
        set,
        kind,
        goal,
        found: vec![
            ("SS between", digits(between.ss, number("between_ss"))),
            ("SS within", digits(within.ss, number("within_ss"))),
            ("F", digits(between.f.expect("a test"), number("f"))),
            ("SD", digits(within.ms.sqrt(), number("within_ms").sqrt())),
        ],
    }
}

fn regression(set: &'static str, kind: &'static str, degree: usize, with_constant: bool, goal: f64) -> Digits {
    let rows = rows(set);
    let column = |name: &str| rows.iter().map(|row| row[name].parse::<f64>().expect("a number")).collect::<Vec<f64>>();
    let columns: Vec<Vec<f64>> = match degree {
        0 => (1..=6).map(|index| column(&format!("x{index}"))).collect(),
        _ => (1..=degree).map(|power| column("x").iter().map(|x| x.powi(power as i32)).collect()).collect(),
    };
    let fit = regress(&columns, &column("y"), with_constant).expect("the set can be fitted");
    let golden = &golden(set)["computed"];
    let list = |key: &str| golden[key].as_array().expect("a list").clone();
    let number = |key: &str| golden[key].as_f64().expect("a number");
    let mut found = vec![
        ("coefficients", least(fit.coefficients.iter().map(|it| it.estimate), list("coefficients").iter())),
        ("SE", least(fit.coefficients.iter().map(|it| it.se), list("se").iter())),
        ("SD", digits(fit.residual_sd, number("residual_sd"))),
        ("R2", digits(fit.r_squared, number("r_squared"))),
    ];
    if let (Some(test), Some(f)) = (fit.test.filter(|_| number("residual_ss") > 0.0), golden["f"].as_f64()) {
        found.push(("F", digits(test.f, f)));
    }
    Digits { set, kind, goal, found }
}

#[test]
fn digits_of_the_certified_sets() {
    let sets = [
        one_way("sirstv", "one-way, 4 constant leading digits", 12.0),
        one_way("smls01", "one-way", 12.0),
        one_way("smls02", "one-way, many plots", 12.0),
        one_way("smls04", "one-way, 7 constant leading digits", 12.0),
        one_way("smls05", "one-way, 7 constant leading digits, many plots", 12.0),
        one_way("smls07", "one-way, 13 constant leading digits", 12.0),
        regression("norris", "line", 1, true, 12.0),
        regression("noint1", "line through the origin", 1, false, 12.0),
        regression("longley", "six columns that hardly differ", 0, true, 12.0),
        regression("wampler1", "polynomial of degree 5, exact", 5, true, 12.0),
        regression("wampler3", "polynomial of degree 5", 5, true, 12.0),
        regression("wampler5", "polynomial of degree 5, large errors", 5, true, 12.0),
    ];
    for set in &sets {
        assert!(set.least() >= set.goal, "{}", set.row());
    }
    let table: Vec<String> = sets.iter().map(Digits::row).collect();
    check_table(&table.join("\n"));
}

/// The page says what was found; it may differ in the last tenth between machines.
fn check_table(table: &str) {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/numbers/certified-sets.md");
    let text = std::fs::read_to_string(&page).expect("the page is there");
    let start = text.find("| sirstv").expect("the page has the table");
    let end = start + text[start..].find("\n\n").unwrap_or(text[start..].trim_end().len());
    if std::env::var_os("GUARDROW_REFRESH_TABLES").is_some() {
        let fresh = format!("{}{table}{}", &text[..start], &text[end..]);
        return std::fs::write(&page, fresh).expect("the page can be written");
    }
    let goals = |text: &str| {
        let cells = |line: &str| line.split('|').map(|cell| cell.trim().to_owned()).collect::<Vec<String>>();
        text.lines().map(cells).map(|cells| (cells[1].clone(), cells[3].clone(), cells[4].clone())).collect::<Vec<_>>()
    };
    for ((set, told, goal), (_, found, _)) in goals(&text[start..end]).into_iter().zip(goals(table)) {
        let (told, found): (f64, f64) = (told.parse().expect("a number"), found.parse().expect("a number"));
        assert!((told - found).abs() < 1.0, "{set}: the page says {told} digits, found {found}");
        assert!(found >= goal.parse::<f64>().expect("a number"));
    }
    assert_eq!(goals(&text[start..end]).len(), table.lines().count(), "the page lists every set");
}
