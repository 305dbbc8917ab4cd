//! The margin in the unit of its measure, as a size or from money.

use guardrow_agronomy::crop::crop;
use guardrow_agronomy::unit::{Quantity, Unit};
use guardrow_findings::{FindingError, Margin, MarginInUnit, Trade};

fn quantity(text: &str) -> Quantity {
    Quantity::parse(text).unwrap()
}

fn size(text: &str, unit: Unit) -> Result<MarginInUnit, FindingError> {
    Margin::Size(quantity(text)).in_unit(unit, "the measure", "margin", Trade::default())
}

fn money(cost: &str, price: &str, unit: Unit, crop_name: Option<&str>) -> Result<MarginInUnit, FindingError> {
    let margin = Margin::Money { added_cost: quantity(cost), price: quantity(price) };
    let trade = Trade { crop: crop_name.map(|name| crop(name).unwrap()), currency: "EUR" };
    margin.in_unit(unit, "grain yield", "question.claims[0].margin", trade)
}

fn near(value: f64, expected: f64) {
    assert!((value / expected - 1.0).abs() < 1e-9, "{value} is not {expected}");
}

#[test]
fn a_size_is_told_in_the_unit_of_its_measure() {
    let margin = size("0.25 t/ha", Unit::KgPerHa).unwrap();
    near(margin.value, 250.0);
    assert_eq!(margin.words, "250 kg/ha (0.25 t/ha)");
    assert_eq!(size("250 kg/ha", Unit::KgPerHa).unwrap().words, "250 kg/ha");
}

#[test]
fn a_difference_of_temperatures_has_no_offset_and_of_dates_is_days() {
    let margin = size("2 degC", Unit::DegF).unwrap();
    near(margin.value, 3.6);
    assert_eq!(margin.words, "3.6 degF (2 degC)");
    let margin = size("3 d", Unit::Date).unwrap();
    assert_eq!((margin.value, margin.words.as_str()), (3.0, "3 d"));
}

// Partial budget: the gain that pays for the added cost is cost over price, 45 / 0.18 = 250.
#[test]
fn money_is_added_cost_over_price() {
    let margin = money("45 money/ha", "0.18 money/kg", Unit::KgPerHa, None).unwrap();
    near(margin.value, 250.0);
    assert_eq!(margin.words, "250 kg/ha = added cost 45 EUR/ha over 0.18 EUR/kg");
    near(money("45 money/ha", "180 money/t", Unit::TonnePerHa, None).unwrap().value, 0.25);
}

// 18 money/ac over 6 money/bu is 3 bu/ac, whatever the crop's bushel weighs.
#[test]
fn bushels_need_their_crop() {
    near(money("18 money/ac", "6 money/bu", Unit::BuPerAc, Some("winter wheat")).unwrap().value, 3.0);
    let error = money("18 money/ac", "6 money/bu", Unit::BuPerAc, None).unwrap_err();
    assert!(matches!(error, FindingError::MarginNotFromMoney { .. }), "{error}");
}

#[test]
fn another_dimension_is_refused_with_what_to_give() {
    let error = size("20 plants/m2", Unit::KgPerHa).unwrap_err();
    assert_eq!(error.to_string(), "20 plants/m2 cannot be told in kg/ha, the unit of the measure");
    assert_eq!(error.help(), "give it in kg/ha or a unit of the same kind");
    let error = money("45 money/ha", "0.18 money/kg", Unit::PlantsPerM2, None).unwrap_err();
    assert!(matches!(error, FindingError::MarginOtherDimension { .. }), "{error}");
    assert_eq!(error.place(), Some("question.claims[0].margin"));
}

#[test]
fn cost_and_price_that_are_no_money_are_refused() {
    for (cost, price) in [("45 kg/ha", "0.18 money/kg"), ("45 money/ha", "0.18 kg"), ("45 money/ha", "0 money/kg")] {
        let error = money(cost, price, Unit::KgPerHa, None).unwrap_err();
        assert!(matches!(error, FindingError::MarginNotFromMoney { .. }), "{cost} over {price}: {error}");
    }
}

#[test]
fn a_margin_that_is_not_above_zero_is_refused() {
    for text in ["0 kg/ha", "-5 kg/ha"] {
        assert!(matches!(size(text, Unit::KgPerHa), Err(FindingError::MarginNotPositive { .. })), "{text}");
    }
    let free = money("0 money/ha", "0.18 money/kg", Unit::KgPerHa, None);
    assert!(matches!(free, Err(FindingError::MarginNotPositive { .. })));
}
