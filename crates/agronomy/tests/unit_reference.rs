//! Sizes of units against Pint 0.25.3, a general-purpose unit library (script beside the data in `reference/`), and by
//! plain relations where Pint has no word for them.

use guardrow_agronomy::unit::{Quantity, Unit};

/// Pint multiplies chains of doubles; eight units in the last place cover that.
const TOLERANCE: f64 = 2e-15;

const PINT: &str = include_str!("reference/unit_factors.csv");

/// What one of a unit is in another, by the words of the units alone.
const RELATIONS: &[(Unit, f64, Unit)] = &[
    (Unit::MoneyPerTonne, 0.001, Unit::MoneyPerKg),
    (Unit::MoneyPerLb, 1.0 / 0.45359237, Unit::MoneyPerKg),
    (Unit::MoneyPerCwt, 0.01, Unit::MoneyPerLb),
    (Unit::MoneyPerAc, 1.0 / 0.40468564224, Unit::MoneyPerHa),
    (Unit::MoneyPerUsGallon, 1.0 / 3.785411784, Unit::MoneyPerLitre),
    (Unit::MilligramPerSeed, 1.0, Unit::GramPerThousandSeeds),
    (Unit::MilligramPerPlant, 0.001, Unit::GramPerPlant),
    (Unit::ThousandSeeds, 1000.0, Unit::Seeds),
    (Unit::GramPerPlant, 1000.0, Unit::MilligramPerPlant),
];

/// Units that are one of their dimension's canonical unit under another name.
const SAME_SIZE: &[Unit] = &[
    Unit::PlantsPerM2,
    Unit::SeedsPerM2,
    Unit::HeadsPerM2,
    Unit::StemsPerM2,
    Unit::PodsPerM2,
    Unit::PlantsPerMetre,
    Unit::SeedsPerMetre,
    Unit::PodsPerPlant,
    Unit::NodulesPerPlant,
    Unit::HeadsPerPlant,
    Unit::StemsPerPlant,
    Unit::SeedsPerPod,
    Unit::SeedsPerHead,
    Unit::Plants,
    Unit::Seeds,
];

#[test]
fn every_size_agrees_with_pint() {
    let mut reader = csv::Reader::from_reader(PINT.as_bytes());
    let mut compared = 0;
    for row in reader.deserialize() {
        let (symbol, canonical, of_one, of_hundred): (String, String, f64, f64) =
            row.expect("the table is well formed");
        let (unit, canonical) = (Unit::parse(&symbol).unwrap(), Unit::parse(&canonical).unwrap());
        for (value, expected) in [(1.0, of_one), (100.0, of_hundred)] {
            let ours = Quantity::new(value, unit).to(canonical).unwrap();
            let room = TOLERANCE * expected.abs().max(if unit == Unit::DegF { 100.0 } else { 0.0 });
            assert!((ours - expected).abs() <= room, "{value} {symbol}: {ours} or {expected}");
        }
        compared += 1;
    }
    assert_eq!(compared, 77);
}

#[test]
fn plain_relations_hold() {
    for &(unit, size, other) in RELATIONS {
        let ours = Quantity::new(1.0, unit).to(other).unwrap();
        assert!((ours / size - 1.0).abs() <= TOLERANCE, "{unit} in {other}: {ours} or {size}");
    }
    for &unit in SAME_SIZE {
        assert_eq!(Quantity::new(1.0, unit).to(unit.dimension().canonical()), Ok(1.0), "{unit}");
    }
}

/// Weights of seeds and of plants keep apart even where both are weights per number; a gram per plant is 1000 times a
/// milligram per plant in the dimension's canonical size as well.
#[test]
fn weights_of_plants_are_not_weights_of_seeds() {
    assert!(Quantity::new(1.0, Unit::GramPerPlant).to(Unit::MilligramPerSeed).is_err());
}

#[test]
fn no_unit_is_unchecked() {
    let by_pint = |unit: Unit| PINT.lines().any(|line| line.starts_with(&format!("{},", unit.symbol())));
    for &unit in Unit::ALL {
        let related = RELATIONS.iter().any(|(known, _, _)| *known == unit) || SAME_SIZE.contains(&unit);
        let canonical = unit.dimension().canonical() == unit;
        // Bushels are checked crop by crop among the published examples.
        assert!(by_pint(unit) || related || canonical || unit.needs_bushel(), "{unit} has no check of its size");
    }
}
