//! The table of limits: handbook of plot arithmetic, section 12, row by row, and bad input of every kind.

use guardrow_agronomy::amount::{AmountError, PlotLength, RowSpacing};
use guardrow_agronomy::crop::crop;
use guardrow_agronomy::harvest::{Moisture, PlotMass};
use guardrow_agronomy::limits::{
    Field, Level, check, check_dates, check_for_crop, check_nutrient_sum, check_plot_masses, check_quantity,
    check_scores, check_temperatures, check_yield_area,
};
use guardrow_agronomy::seed::{FieldEmergence, Germination, Survival};
use guardrow_agronomy::unit::{Quantity, Unit, UnitError};

/// The most serious level of remark on a value.
fn worst(field: Field, value: f64) -> Option<Level> {
    check(field, value).iter().map(|remark| remark.level).max()
}

#[test]
fn every_row_of_the_table() {
    let (refuse, warn, fine) = (Some(Level::Refuse), Some(Level::Warn), None);
    for (field, value, expected) in [
        (Field::Germination, 0.0, refuse),
        (Field::Germination, 100.1, refuse),
        (Field::Germination, 0.95, warn),
        (Field::Germination, 1.0, warn),
        (Field::Germination, 95.0, fine),
        (Field::Germination, 100.0, fine),
        (Field::Emergence, -5.0, refuse),
        (Field::Purity, 0.99, warn),
        (Field::Survival, 39.9, warn),
        (Field::Survival, 40.0, fine),
        (Field::ThousandKernelWeight, 0.0, refuse),
        (Field::ThousandKernelWeight, 155.0, fine),
        (Field::TargetStand, 0.0, refuse),
        (Field::RowSpacing, 0.0, refuse),
        (Field::RowSpacing, 0.04, warn),
        (Field::RowSpacing, 2.1, warn),
        (Field::RowSpacing, 0.19, fine),
        (Field::Rows, 0.0, refuse),
        (Field::Rows, 2.5, refuse),
        (Field::Rows, 41.0, warn),
        (Field::Replicates, 0.0, refuse),
        (Field::Count, -1.0, refuse),
        (Field::Count, 0.0, fine),
        (Field::Count, 1.5, refuse),
        (Field::PlotLength, 0.0, refuse),
        (Field::PlotLength, 0.9, warn),
        (Field::PlotLength, 201.0, warn),
        (Field::YieldArea, 0.0, refuse),
        (Field::YieldArea, 0.5, warn),
        (Field::Moisture, -0.1, refuse),
        (Field::Moisture, 100.0, refuse),
        (Field::Moisture, 0.13, warn),
        (Field::Moisture, 13.0, fine),
        (Field::PlotMass, -0.001, refuse),
        (Field::PlotMass, 0.0, warn),
        (Field::TestWeight, 0.0, refuse),
        (Field::TestWeight, 19.0, warn),
        (Field::TestWeight, 91.0, warn),
        (Field::Protein, -1.0, refuse),
        (Field::Protein, 101.0, refuse),
        (Field::Protein, 61.0, warn),
        (Field::NutrientAnalysis, 0.0, refuse),
        (Field::Rate, -1.0, refuse),
        (Field::Rate, 0.0, fine),
        (Field::Carrier, 29.0, warn),
        (Field::Carrier, 1001.0, warn),
        (Field::Speed, 0.0, refuse),
        (Field::Speed, 15.1, warn),
        (Field::NozzleOutput, 0.0, refuse),
        (Field::Overfill, 101.0, refuse),
        (Field::Overfill, 51.0, warn),
        (Field::Overfill, 10.0, fine),
        (Field::BreakEvenPrice, 0.0, refuse),
        (Field::Price, -0.01, refuse),
        (Field::Price, 0.0, fine),
        (Field::Cost, -10.0, warn),
        (Field::Temperature, -51.0, warn),
        (Field::Temperature, 51.0, warn),
        (Field::Temperature, 20.0, fine),
        (Field::Dockage, 0.5, fine),
    ] {
        assert_eq!(worst(field, value), expected, "{field:?} {value}");
    }
}

#[test]
fn what_is_not_finite_is_always_refused() {
    for &field in Field::ALL {
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(worst(field, value), Some(Level::Refuse), "{field:?} {value}");
        }
    }
}

#[test]
fn a_percentage_like_a_fraction_is_understood_and_told() {
    let remark = &check(Field::Germination, 0.95)[0];
    assert_eq!(remark.sentence, "Germination is 0.95 %, understood as a percentage although it looks like a fraction.");
    assert_eq!(remark.help, "If you meant 95 %, enter that; percentages run from 0 to 100.");
    // The value itself stays: nothing is changed behind the person's back.
    assert_eq!(Germination::percent(0.95).unwrap().in_percent(), 0.95);
}

#[test]
fn refusals_say_what_where_and_what_to_do() {
    let negative = PlotMass::kilograms(-3.5).unwrap_err();
    assert_eq!(negative.to_string(), "plot mass is -3.5 kg: must be 0 or more");
    assert_eq!(negative.help(), "Enter the plot mass as a number 0 or more, in kg.");
    let wet = Moisture::percent(113.0).unwrap_err();
    assert_eq!(wet.to_string(), "moisture is 113 %: must be 0 or more and below 100");
    assert_eq!(wet.remark().sentence, "Moisture is 113 %: must be 0 or more and below 100.");
    assert_eq!(
        Moisture::percent(f64::NAN).unwrap_err().to_string(),
        "moisture is not a number: must be 0 or more and below 100"
    );
    assert!(FieldEmergence::of_mortality(100.0).is_err());
    assert!(Survival::points_off(Germination::percent(10.0).unwrap(), 10.0).is_err());
}

#[test]
fn a_quantity_is_checked_in_the_fields_own_unit() {
    let spacing = |text| check_quantity(Field::RowSpacing, Quantity::parse(text).unwrap());
    assert_eq!(spacing("7.5 in"), Ok(Vec::new()));
    assert_eq!(spacing("19 cm"), Ok(Vec::new()));
    // The unit was forgotten to be changed: 19 m.
    assert_eq!(spacing("19 m").unwrap()[0].sentence, "Row spacing is 19 m, which is unusual.");
    assert!(matches!(spacing("19 kg"), Err(UnitError::Incompatible { .. })));
    assert_eq!(RowSpacing::of(Quantity::parse("10 in").unwrap()).unwrap().in_metres(), 0.254);
    let wrong = PlotLength::of(Quantity::new(7.5, Unit::Hectare)).unwrap_err();
    assert!(matches!(wrong, AmountError::Unit(UnitError::Incompatible { .. })));
    assert!(wrong.help().starts_with("Choose a unit of the same kind"));
}

#[test]
fn a_crop_narrows_the_ranges() {
    let soybean = crop("soybean").unwrap();
    // Range 130 to 181 g widened by 30 %: 91 to 235.3.
    for (grams, remarks) in [(90.9, 1), (91.0, 0), (235.3, 0), (235.4, 1)] {
        assert_eq!(check_for_crop(Field::ThousandKernelWeight, grams, soybean).len(), remarks, "{grams}");
    }
    // Stand 34.6 to 39.5, half to double.
    for (stand, remarks) in [(17.2, 1), (17.3, 0), (79.0, 0), (79.1, 1)] {
        assert_eq!(check_for_crop(Field::TargetStand, stand, soybean).len(), remarks, "{stand}");
    }
    let wet = check_for_crop(Field::Moisture, 31.0, soybean);
    assert_eq!(wet[0].sentence, "Moisture is 31 %, outside 5 to 30 for soybean.");
    assert_eq!(check_for_crop(Field::Moisture, 101.0, soybean).len(), 1);
    // Nothing is known about quinoa's stand, so nothing is said.
    assert!(check_for_crop(Field::TargetStand, 1e6, crop("quinoa").unwrap()).is_empty());
}

#[test]
fn values_that_belong_together() {
    assert_eq!(check_yield_area(9.2, 9.12)[0].level, Level::Refuse);
    assert!(check_yield_area(9.12, 9.12).is_empty());
    assert_eq!(check_temperatures(12.0, 3.0)[0].level, Level::Refuse);
    assert!(check_temperatures(3.0, 12.0).is_empty());
    assert_eq!(check_dates(10, 9)[0].level, Level::Refuse);
    assert_eq!(check_dates(0, 401)[0].level, Level::Warn);
    assert!(check_dates(0, 400).is_empty());
    assert_eq!(check_dates(i64::MIN, i64::MAX)[0].level, Level::Warn);
    assert_eq!(check_nutrient_sum(46.0, 50.0, 5.0)[0].level, Level::Refuse);
    assert!(check_nutrient_sum(11.0, 52.0, 0.0).is_empty());
    assert_eq!(check_scores(1.0, 9.0, &[3.0, 0.0, 5.0])[0].level, Level::Refuse);
    assert_eq!(check_scores(1.0, 9.0, &[3.0, 3.0, 3.0])[0].level, Level::Warn);
    assert_eq!(check_scores(1.0, 9.0, &[f64::NAN])[0].level, Level::Refuse);
    assert!(check_scores(1.0, 9.0, &[3.0, 4.0]).is_empty());
}

#[test]
fn a_plot_mass_far_from_the_others_is_told() {
    // Median 3.5, distances 0.1 0 0.1 0.2 0.2 4.5, their median 0.15: one robust standard deviation is 0.222.
    let masses = [3.4, 3.5, 3.6, 3.3, 3.7, 8.0];
    let far = check_plot_masses(&masses);
    assert_eq!(far.iter().map(|(plot, _)| *plot).collect::<Vec<_>>(), [5]);
    assert!(far[0].1.sentence.contains("above the trial's median"), "{}", far[0].1.sentence);
    assert!(check_plot_masses(&[3.0, 3.0, 3.0, 9.0]).is_empty());
    assert!(check_plot_masses(&[]).is_empty());
    // 1 / 1.4826 is the upper quartile of the normal distribution: scipy.stats.norm.ppf(0.75) = 0.6744897501960817.
    assert!((1.0 / 1.4826 - 0.674_489_750_196_081_7_f64).abs() < 1e-4);
}

#[test]
fn bare_numbers_and_unknown_units_are_refused_with_advice() {
    let bare = Quantity::parse("250").unwrap_err();
    assert_eq!(bare, UnitError::MissingUnit { text: "250".to_owned() });
    assert_eq!(bare.to_string(), "\"250\" has no unit");
    assert!(bare.help().contains("250 kg/ha"));
    let unknown = Quantity::parse("250 kg/hac").unwrap_err();
    assert_eq!(unknown.to_string(), "\"kg/hac\" is not a unit that Guardrow knows");
    assert_eq!(unknown.help(), "Did you mean kg/ha?");
    let doubtful = Quantity::parse("3 oz").unwrap_err();
    assert_eq!(doubtful.to_string(), "\"oz\" can mean oz (mass) or US fl oz or imp fl oz");
    let comma = Quantity::parse("3,5 kg/ha").unwrap_err();
    assert_eq!(comma.to_string(), "\"3,5 kg/ha\" holds a comma, which can mean a decimal or a thousand");
    assert_eq!(Quantity::parse_decimal_comma("3,5 kg/ha"), Ok(Quantity::new(3.5, Unit::KgPerHa)));
    assert!(Quantity::parse_decimal_comma("3.5 kg/ha").is_err());
    for text in ["", "  ", "kg/ha", "NaN kg", "inf kg/ha", "2026-02-30", "20000 date"] {
        assert!(Quantity::parse(text).is_err(), "{text}");
    }
}

#[test]
fn plants_are_not_seeds_and_scores_are_not_converted() {
    let stand = Quantity::new(40.0, Unit::PlantsPerM2);
    let error = stand.to(Unit::SeedsPerM2).unwrap_err();
    assert_eq!(
        error.to_string(),
        "plants/m2 is a number per area (plants), seeds/m2 is a number per area (seeds): one cannot be turned into the other"
    );
    assert_eq!(stand.to(Unit::CountPerM2), Ok(40.0));
    assert!(Quantity::new(3.0, Unit::Score).to(Unit::Index).is_err());
    assert!(Quantity::new(50.0, Unit::BuPerAc).to(Unit::KgPerHa).unwrap_err().to_string().contains("needs a crop"));
}
