//! Handbook section 1.

use guardrow_agronomy::crop::{Bushel, Trade, crop, crops};
use guardrow_agronomy::unit::{Quantity, Unit, UnitError};

use crate::printed;

/// Handbook 1.2, derived factors, computed from the legal definitions (Weights and Measures Act, Canada, Schedule II).
/// Fifteen digits are printed, so one part in 10^14 is asked for.
#[test]
fn derived_factors() {
    for (from, to, factor) in [
        (Unit::Hectare, Unit::Acre, 2.471053814671653),
        (Unit::Acre, Unit::Hectare, 0.40468564224),
        (Unit::SquareFoot, Unit::SquareMetre, 0.09290304),
        (Unit::SquareMetre, Unit::SquareFoot, 10.763910416709722),
        (Unit::LbPerAc, Unit::KgPerHa, 1.120851156194456),
        (Unit::KgPerHa, Unit::LbPerAc, 0.892179121619704),
        (Unit::CwtPerAc, Unit::KgPerHa, 112.0851156194456),
        (Unit::ShortTonPerAc, Unit::TonnePerHa, 2.241702312388912),
        (Unit::TonnePerHa, Unit::KgPerHa, 1000.0),
        (Unit::GramPerM2, Unit::KgPerHa, 10.0),
        (Unit::GramPerM2, Unit::TonnePerHa, 0.01),
        (Unit::PlantsPerAc, Unit::PlantsPerM2, 0.000247105381467165),
        (Unit::PlantsPerM2, Unit::PlantsPerAc, 4046.8564224),
        (Unit::PlantsPerFt2, Unit::PlantsPerM2, 10.763910416709722),
        (Unit::UsGallonPerAc, Unit::LitrePerHa, 9.353956228956228),
        (Unit::ImperialGallonPerAc, Unit::LitrePerHa, 11.233633036340658),
        (Unit::UsFluidOuncePerAc, Unit::MillilitrePerHa, 73.07778303872053),
        (Unit::OuncePerAc, Unit::GramPerHa, 70.0531972621535),
        (Unit::LbPerWinchesterBushel, Unit::KgPerHectolitre, 1.28718597809745),
        (Unit::LbPerImperialBushel, Unit::KgPerHectolitre, 1.24720465828877),
        (Unit::MilePerHour, Unit::KmPerHour, 1.609344),
        // The handbook's 6.894757 is rounded.
        (Unit::Psi, Unit::Kilopascal, 6.894757293168361),
    ] {
        let ours = Quantity::new(1.0, from).to(to).unwrap();
        assert!((ours / factor - 1.0).abs() < 1e-14, "{from} to {to}: {ours} or {factor}");
    }
}

/// Bushels per tonne, published: Alberta Agriculture, bushel and tonne converter (2002), after the Canada Grains
/// Council 1999. Their five figures come from 2204.64 lb in a tonne where 2204.6226 is exact, so they stand up to 1e-5
/// high.
#[test]
fn bushels_per_tonne() {
    for (name, published) in [
        ("spring wheat", 36.7440),
        ("oat", 64.8420),
        ("barley", 45.9300),
        ("rye", 39.3680),
        ("flax", 39.3680),
        ("corn", 39.3680),
        ("canola", 44.0920),
        ("mustard", 44.0920),
        ("faba bean", 36.7440),
        ("soybean", 36.7440),
        ("field pea", 36.7440),
        ("dry bean", 36.7440),
        ("sunflower", 73.4870),
    ] {
        let crop = crop(name).unwrap();
        let ours = Quantity::new(1.0, Unit::Tonne).to_for_crop(Unit::Bushel, crop).unwrap();
        assert!((ours / published - 1.0).abs() < 1.2e-5, "{name}: {ours} or {published}");
        assert_eq!(
            ours,
            Quantity::new(1000.0, Unit::Kilogram).to_with_bushel(Unit::Bushel, crop.bushel().unwrap()).unwrap()
        );
    }
}

/// Handbook 1.3, the published check: one tonne of soybean is 36.744 bu (exact 36.7437), of Canadian oat 64.842
/// (64.8418).
#[test]
fn a_tonne_of_soybean_and_of_oat() {
    printed(crop("soybean").unwrap().bushel().unwrap().per_tonne(), 36.7437, 4);
    printed(crop("oat").unwrap().bushel().unwrap().per_tonne(), 64.8418, 4);
    printed(2204.62262184878 / 60.0, Bushel::pounds(60.0).unwrap().per_tonne(), 12);
}

/// Handbook 1.3, computed: kg/ha in one bu/ac, printed to seven decimals.
#[test]
fn kilograms_per_hectare_in_a_bushel_per_acre() {
    for (pounds, factor) in [
        (60.0, 67.2510694),
        (56.0, 62.7676647),
        (50.0, 56.0425578),
        (48.0, 53.8008555),
        (44.0, 49.3174509),
        (34.0, 38.1089393),
        (32.0, 35.8672370),
        (30.0, 33.6255347),
    ] {
        let bushel = Bushel::pounds(pounds).unwrap();
        printed(Quantity::new(1.0, Unit::BuPerAc).to_with_bushel(Unit::KgPerHa, bushel).unwrap(), factor, 7);
    }
}

/// United States weights, published: encyclopedia article on test weight, citing the Department of Agriculture.
#[test]
fn united_states_bushels() {
    let us = |name| crop(name).unwrap().bushel_in(Trade::UnitedStates).unwrap().in_pounds();
    for (name, pounds) in [
        ("spring wheat", 60.0),
        ("soybean", 60.0),
        ("corn", 56.0),
        ("sorghum", 56.0),
        ("rye", 56.0),
        ("barley", 48.0),
        ("oat", 32.0),
    ] {
        assert_eq!(us(name), pounds, "{name}");
    }
}

/// Handbook 1.3: a crop without a bushel weight is refused bu/ac and offered kg/ha and lb/ac.
#[test]
fn quinoa_has_no_bushel() {
    let quinoa = crop("quinoa").unwrap();
    let error = Quantity::new(1500.0, Unit::KgPerHa).to_for_crop(Unit::BuPerAc, quinoa).unwrap_err();
    assert_eq!(error, UnitError::NoBushel { crop: "quinoa".to_owned() });
    assert!(error.help().contains("lb/ac"));
    printed(Quantity::new(1500.0, Unit::KgPerHa).to_for_crop(Unit::LbPerAc, quinoa).unwrap(), 1338.27, 2);
    assert_eq!(crops().iter().filter(|crop| crop.bushel().is_none()).count(), 1);
}

/// Handbook 1.1: temperatures convert with their offset, differences without (NIST SP 811, from memory).
#[test]
fn temperatures() {
    for (fahrenheit, celsius) in
        [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0), (50.0, 10.0), (28.0, -2.2222222222222223)]
    {
        printed(Quantity::new(fahrenheit, Unit::DegF).to(Unit::DegC).unwrap(), celsius, 12);
        printed(Quantity::new(celsius, Unit::DegC).to(Unit::DegF).unwrap(), fahrenheit, 12);
    }
    printed(Quantity::new(9.0, Unit::DegFDifference).to(Unit::DegCDifference).unwrap(), 5.0, 12);
    // Handbook 8.7: degree days in F are divided by 1.8. 43 F-GDD (Wisconsin farm column, 2018).
    printed(Quantity::new(43.0, Unit::DegFDay).to(Unit::DegCDay).unwrap(), 43.0 / 1.8, 12);
}

/// Handbook 5.2, computed: 8 lb/ac in 30 in rows is 7.35 oz/1000 ft, or 0.683 g/m.
#[test]
fn rates_along_the_row() {
    let ounces = Quantity::new(8.0 * 16.0 * 1000.0 * 2.5 / 43_560.0, Unit::OuncePerThousandFeet);
    printed(ounces.value, 7.35, 2);
    printed(ounces.to(Unit::GramPerMetre).unwrap(), 0.683, 3);
}
