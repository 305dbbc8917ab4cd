//! The distributions against scipy.
//!
//! Values, script and versions: `tests/reference/distributions/`. Tolerances: both sides of an ordinary distribution are good to
//! about 1e-12 relative; the studentised range and Dunnett are asked for 1e-7 absolute and checked to 1e-10, about what the
//! adaptive quadrature on the other side promises.

use guardrow_inference::distribution::*;
use std::path::Path;

struct Value {
    function: String,
    arguments: [String; 3],
    value: f64,
}

impl Value {
    fn argument(&self, index: usize) -> f64 {
        self.arguments[index].parse().expect("the argument is a number")
    }
}

fn values() -> Vec<Value> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/distributions/values.csv");
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(path).expect("the values are there");
    let rows = reader.records().map(|row| {
        let row = row.expect("a whole row");
        let arguments = [1, 2, 3].map(|index| row[index].to_owned());
        Value { function: row[0].to_owned(), arguments, value: row[4].parse().expect("a number") }
    });
    rows.collect()
}

fn check(function: &str, relative: f64, absolute: f64, ours: impl Fn(&Value) -> f64) {
    let chosen: Vec<Value> = values().into_iter().filter(|value| value.function == function).collect();
    assert!(chosen.len() >= 9, "{function} has only {} values", chosen.len());
    for value in chosen {
        let found = ours(&value);
        let allowed = (relative * value.value.abs()).max(absolute);
        let miss = (found - value.value).abs();
        assert!(miss <= allowed, "{function}{:?}: {found:e} instead of {:e}", value.arguments, value.value);
    }
}

#[test]
fn normal() {
    check("normal_upper", 1e-12, 0.0, |it| normal_upper(it.argument(0)));
    check("normal_quantile", 1e-12, 1e-15, |it| normal_quantile(it.argument(0)));
}

#[test]
fn student_t() {
    // at a million degrees of freedom the continued fraction loses the last five digits
    check("t_upper", 1e-10, 0.0, |it| t_upper(it.argument(0), it.argument(1)));
    check("t_quantile", 1e-11, 0.0, |it| t_quantile(it.argument(0), it.argument(1)));
}

#[test]
fn f() {
    check("f_upper", 1e-11, 1e-300, |it| f_upper(it.argument(0), it.argument(1), it.argument(2)));
    check("f_lower", 1e-11, 1e-300, |it| f_lower(it.argument(0), it.argument(1), it.argument(2)));
    check("f_quantile", 1e-11, 0.0, |it| f_quantile(it.argument(0), it.argument(1), it.argument(2)));
}

#[test]
fn chi_square() {
    check("chi_square_upper", 1e-11, 1e-300, |it| chi_square_upper(it.argument(0), it.argument(1)));
    check("chi_square_lower", 1e-11, 1e-300, |it| chi_square_lower(it.argument(0), it.argument(1)));
    check("chi_square_quantile", 1e-11, 0.0, |it| chi_square_quantile(it.argument(0), it.argument(1)));
}

#[test]
fn studentised_range() {
    let range = |it: &Value| StudentisedRange::of(it.argument(1) as usize);
    check("studentised_range_upper", 0.0, 1e-10, |it| range(it).upper(it.argument(0), it.argument(2)));
    check("studentised_range_quantile_of_upper", 1e-7, 0.0, |it| {
        range(it).quantile_of_upper(it.argument(0), it.argument(2))
    });
}

#[test]
fn dunnett() {
    check("dunnett_upper", 0.0, 1e-10, |it| {
        let lambda: Vec<f64> = it.arguments[2].split(';').map(|part| part.parse().unwrap()).collect();
        Dunnett::with(&lambda).upper(it.argument(0), it.argument(1))
    });
}

// Closed forms: t with 1 df is Cauchy, F with 2 numerator df has upper tail (1 + 2f/b)^(-b/2), chi-square with 2 df is exponential,
// the range of two means is sqrt(2) |t|.
#[test]
fn closed_forms() {
    for x in [0.01_f64, 0.5, 3.0, 1e4, 1e9] {
        let cauchy = (1.0 / x).atan() / std::f64::consts::PI;
        assert!((t_upper(x, 1.0) / cauchy - 1.0).abs() < 1e-12, "{x}");
        assert!((f_upper(x, 2.0, 7.0) / (1.0 + 2.0 * x / 7.0).powf(-3.5) - 1.0).abs() < 1e-12, "{x}");
        assert!((chi_square_upper(x.min(900.0), 2.0) / (-0.5 * x.min(900.0)).exp() - 1.0).abs() < 1e-12, "{x}");
        let pair = StudentisedRange::of(2).upper(x * 2.0_f64.sqrt(), 9.0);
        assert!((pair / t_two_sided(x, 9.0) - 1.0).abs() < 1e-12, "{x}");
    }
}

#[test]
fn arguments_that_make_no_sense_give_nan_and_never_panic() {
    for odd in [f64::NAN, -1.0, 2.0, f64::INFINITY] {
        assert!(t_quantile(odd, 5.0).is_nan());
        assert!(f_quantile(odd, 2.0, 5.0).is_nan());
        assert!(chi_square_quantile(odd, 5.0).is_nan());
        assert!(normal_quantile(odd).is_nan());
        assert!(StudentisedRange::of(5).quantile_of_upper(odd, 10.0).is_nan());
    }
    for df in [f64::NAN, 0.0, -3.0] {
        assert!(t_quantile(0.4, df).is_nan());
        assert!(StudentisedRange::of(5).upper(3.0, df).is_nan());
        assert!(Dunnett::with(&[0.5, 0.5]).upper(2.0, df).is_nan());
    }
    assert_eq!(StudentisedRange::of(5).upper(f64::INFINITY, 10.0), 0.0);
    assert_eq!(t_upper(f64::INFINITY, 10.0), 0.0);
}
