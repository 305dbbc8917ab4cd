//! Comparisons with golden values.

use guardrow_inference::distribution::StudentisedRange;
use guardrow_inference::{AnovaRow, ControlTable, MeansTable, StrataTable, TermTest};
use serde_json::Value;

/// Relative tolerances of `tests/reference/PROVENANCE.md`.
#[derive(Clone, Copy)]
pub struct Tolerance {
    pub mean: f64,
    pub df: f64,
    pub p: f64,
}

/// Classical and fixed-effects quantities.
pub const CLASSICAL: Tolerance = Tolerance { mean: 1e-8, df: 1e-8, p: 1e-7 };
/// Mixed-model quantities; the golden values come from an iterative fit.
pub const MIXED: Tolerance = Tolerance { mean: 1e-5, df: 1e-4, p: 1e-3 };
/// Absolute tolerance of p by Tukey and Dunnett.
const JOINT_P: f64 = 1e-7;

pub fn close(actual: f64, expected: f64, relative: f64, what: &str) {
    close_or(actual, expected, relative, 0.0, what);
}

pub fn close_or(actual: f64, expected: f64, relative: f64, absolute: f64, what: &str) {
    let allowed = (relative * expected.abs()).max(absolute);
    assert!((actual - expected).abs() <= allowed, "{what}: {actual:.17e} instead of {expected:.17e}");
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("golden value '{key}' is no number in {value}"))
}

/// A p, raw.
pub fn close_p(actual: f64, expected: f64, relative: f64, what: &str) {
    close_or(actual, expected, relative, 1e-12, what);
}

/// One row of an analysis of variance.
pub fn check_row(row: &AnovaRow, golden: &Value) {
    let what = &row.source;
    assert_eq!(row.df, number(golden, "df"), "df of {what}");
    close(row.ss, number(golden, "ss"), 1e-8, &format!("SS of {what}"));
    close(row.ms, number(golden, "ms"), 1e-8, &format!("MS of {what}"));
    if let Some(f) = golden["f"].as_f64() {
        close(row.f.expect("the row has a test"), f, 1e-8, &format!("F of {what}"));
        close_p(row.p.expect("the row has a test"), number(golden, "p"), 1e-7, &format!("p of {what}"));
    } else {
        assert_eq!(row.f, None, "F of {what}");
    }
}

/// All rows of all strata, in golden order; the pairs give ours as (stratum, source).
pub fn check_strata(table: &StrataTable, golden: &Value, ours: &[(&str, &str)]) {
    let rows = golden.as_array().expect("golden rows");
    assert_eq!(rows.len(), ours.len());
    let count: usize = table.strata.iter().map(|stratum| stratum.rows.len()).sum();
    assert_eq!(count, ours.len(), "{table:#?}");
    for (golden, (stratum, source)) in rows.iter().zip(ours) {
        let row = table.stratum(stratum).and_then(|it| it.row(source));
        check_row(row.unwrap_or_else(|| panic!("no row {source} in {stratum}")), golden);
    }
}

/// Kenward-Roger tests.
pub fn check_tests(tests: &[TermTest], golden: &Value, labels: &[&str]) {
    let rows = golden.as_array().expect("golden tests");
    assert_eq!((rows.len(), tests.len()), (labels.len(), labels.len()));
    for (golden, label) in rows.iter().zip(labels) {
        let test = tests.iter().find(|test| test.label == *label).unwrap_or_else(|| panic!("no test of {label}"));
        assert_eq!(test.num_df, number(golden, "num_df"));
        close(test.den_df, number(golden, "den_df"), 1e-4, &format!("den df of {label}"));
        close(test.f, number(golden, "f"), 1e-3, &format!("F of {label}"));
        close_p(test.p, number(golden, "p"), 1e-3, &format!("p of {label}"));
    }
}

/// Means with errors; `keys` name the golden columns that hold the levels, in our factor order.
pub fn check_means(table: &MeansTable, golden: &Value, keys: &[&str], tolerance: Tolerance) {
    let rows = golden["means"].as_array().expect("golden means");
    assert_eq!(rows.len(), table.cells.len());
    for golden in rows {
        let levels: Vec<&str> = keys.iter().map(|key| golden[*key].as_str().expect("a level")).collect();
        let cell =
            table.cells.iter().find(|cell| cell.levels == levels).unwrap_or_else(|| panic!("no cell {levels:?}"));
        let what = |quantity: &str| format!("{quantity} of {}", cell.label);
        close(cell.mean, number(golden, "mean"), tolerance.mean, &what("mean"));
        close(cell.se.unwrap(), number(golden, "se"), tolerance.mean, &what("se"));
        close(cell.df.unwrap(), number(golden, "df"), tolerance.df, &what("df"));
        let width = tolerance.mean * number(golden, "mean").abs();
        close_or(cell.lower.unwrap(), number(golden, "lower95"), tolerance.mean, width, &what("lower end"));
        close_or(cell.upper.unwrap(), number(golden, "upper95"), tolerance.mean, width, &what("upper end"));
    }
}

/// All pairs, with p by Tukey where golden, SED, LSD, and that letters say exactly what p says.
pub fn check_pairs(table: &MeansTable, golden: &Value, tolerance: Tolerance) {
    let rows = golden["pairs"].as_array().expect("golden pairs");
    assert_eq!(rows.len(), table.pairs.len());
    let cell = |label: &Value| {
        let label = label.as_str().expect("a label");
        table
            .cells
            .iter()
            .position(|cell| cell.levels.join(" / ") == label)
            .unwrap_or_else(|| panic!("no cell {label}"))
    };
    let scale = table.cells.iter().map(|cell| cell.mean.abs()).fold(0.0, f64::max);
    for golden in rows {
        let (a, b) = (cell(&golden["a"]), cell(&golden["b"]));
        let pair = table.pairs.iter().find(|pair| (pair.a, pair.b) == (a.min(b), a.max(b))).expect("the pair is there");
        let sign = if a < b { 1.0 } else { -1.0 };
        let what = |quantity: &str| format!("{quantity} of {} - {}", golden["a"], golden["b"]);
        let difference = number(golden, "difference");
        close_or(sign * pair.estimate, difference, tolerance.mean, tolerance.mean * scale, &what("difference"));
        close(pair.se, number(golden, "se"), tolerance.mean, &what("se"));
        close(pair.df, number(golden, "df"), tolerance.df, &what("df"));
        close_p(pair.p, number(golden, "p_raw"), tolerance.p, &what("p"));
        if let Some(p) = golden["p_holm"].as_f64() {
            close_p(pair.p_holm, p, tolerance.p, &what("p by Holm"));
        }
        if let Some(p) = golden["p_tukey"].as_f64() {
            // The golden t and df of an iterative fit carry its error into p: there the distribution is checked at the
            // golden t and df, and our own p as any other p of a mixed model.
            let own = if tolerance.p > 1e-4 { tolerance.p * p } else { 0.0 };
            let range = StudentisedRange::of(table.cells.len());
            let t = number(golden, "t").abs() * std::f64::consts::SQRT_2;
            close_or(range.upper(t, number(golden, "df")), p, 0.0, JOINT_P, &what("p by Tukey at golden t"));
            close_or(pair.p_tukey, p, 0.0, own.max(JOINT_P), &what("p by Tukey"));
        }
    }
    for (ours, key) in [(table.sed.min, "min"), (table.sed.mean, "mean"), (table.sed.max, "max")] {
        close(ours, number(&golden["sed"], key), tolerance.mean, "SED");
    }
    for (ours, key) in [(table.lsd.min, "min"), (table.lsd.mean, "mean"), (table.lsd.max, "max")] {
        close(ours, number(&golden["lsd_5pct"], key), tolerance.mean.max(tolerance.df), "LSD");
    }
    if let Some(letters) = &table.letters {
        check_letters(table, letters);
    }
}

fn check_letters(table: &MeansTable, letters: &[String]) {
    for pair in &table.pairs {
        let shared = letters[pair.a].chars().any(|letter| letters[pair.b].contains(letter));
        assert_eq!(shared, pair.p_tukey >= 0.05, "{letters:?}");
    }
    let top = (0..letters.len()).max_by(|&a, &b| table.cells[a].mean.total_cmp(&table.cells[b].mean)).unwrap();
    assert!(letters[top].contains('a'));
}

/// Comparisons with a control. The golden intervals rest on a critical value found to 1e-10.
pub fn check_dunnett(table: &ControlTable, golden: &Value, label: impl Fn(&str) -> String) {
    let rows = golden["table"].as_array().expect("golden comparisons");
    assert_eq!(rows.len(), table.comparisons.len());
    for golden in rows {
        let name = label(golden["level"].as_str().expect("a level"));
        let ours = table.comparisons.iter().find(|it| it.label == name).unwrap_or_else(|| panic!("no {name}"));
        close_or(ours.estimate, number(golden, "difference"), 1e-8, 1e-10, &name);
        close(ours.se, number(golden, "se"), 1e-8, &name);
        assert_eq!(ours.df, number(golden, "df"));
        close_or(ours.p_dunnett, number(golden, "p_dunnett"), 0.0, JOINT_P, &name);
        let width = number(golden, "upper95") - number(golden, "lower95");
        close_or(ours.lower, number(golden, "lower95"), 0.0, 1e-7 * width, &name);
        close_or(ours.upper, number(golden, "upper95"), 0.0, 1e-7 * width, &name);
    }
}
