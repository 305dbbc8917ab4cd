//! Sizes of units against Pint 0.25.3, a general-purpose unit library (script beside the data in `reference/`).

use guardrow_agronomy::unit::{Quantity, Unit};

/// Pint multiplies chains of doubles; eight units in the last place cover that.
const TOLERANCE: f64 = 2e-15;

#[test]
fn every_size_agrees_with_pint() {
    let mut reader = csv::Reader::from_reader(include_str!("reference/unit_factors.csv").as_bytes());
    let mut compared = 0;
    for row in reader.deserialize() {
        let (symbol, canonical, of_one, of_hundred): (String, String, f64, f64) =
            row.expect("the table is well formed");
        let (unit, canonical) = (Unit::parse(&symbol).unwrap(), Unit::parse(&canonical).unwrap());
        for (value, expected) in [(1.0, of_one), (100.0, of_hundred)] {
            let ours = Quantity::new(value, unit).to(canonical).unwrap();
            assert!(
                (ours - expected).abs() <= TOLERANCE * expected.abs().max(1.0),
                "{value} {symbol}: {ours} or {expected}"
            );
        }
        compared += 1;
    }
    assert_eq!(compared, 77);
}

/// Units that Pint's table above leaves out are few, and each is its dimension's own unit, a bare count, or money.
#[test]
fn what_pint_cannot_check_is_plain() {
    let table = include_str!("reference/unit_factors.csv");
    let checked =
        |unit: Unit| table.lines().any(|line| line.trim_start_matches('"').starts_with(&format!("{},", unit.symbol())));
    for &unit in Unit::ALL.iter().filter(|unit| !checked(**unit)) {
        let one = Quantity::new(1.0, unit);
        let plain = unit.needs_bushel()
            || unit.symbol().starts_with("money")
            || [1.0, 1000.0].contains(&one.to(unit.dimension().canonical()).unwrap_or(1.0));
        assert!(plain, "{unit} has no check from outside");
    }
}
