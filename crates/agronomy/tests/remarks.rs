//! Remarks that calculations add to their results: handbook of plot arithmetic, sections 2 to 4 and 7, at their thresholds.

use guardrow_agronomy::amount::{EndLength, GroundArea, PlotLength, RowSpacing};
use guardrow_agronomy::calibration::{CatchTest, new_setting, seeds_per_turn, wheel_distance_m};
use guardrow_agronomy::crop::{crop, source};
use guardrow_agronomy::harvest::{Harvest, Moisture, PlotMass, StandardMoisture};
use guardrow_agronomy::limits::{Field, Level, Remark, check_for_crop, check_plot_masses};
use guardrow_agronomy::packet::{Fill, LotBalance, PacketPlan, bags};
use guardrow_agronomy::plot_area::PlotShape;
use guardrow_agronomy::rounding::{customary_decimals, shown};
use guardrow_agronomy::seed::{SeedSamples, SeedingRate, Survival, TargetStand, ThousandKernelWeight};
use guardrow_agronomy::stand::{RowCount, Stand, hoop_remarks};
use guardrow_agronomy::unit::Unit;

fn levels(remarks: &[Remark]) -> Vec<Level> {
    remarks.iter().map(|remark| remark.level).collect()
}

#[test]
fn few_or_uneven_seed_samples() {
    let join = |samples: &[(f64, u32)]| levels(&SeedSamples::join(samples).unwrap().remarks);
    assert_eq!(join(&[(31.0, 200), (31.0, 200)]), [Level::Note]);
    assert_eq!(join(&[(31.0, 200), (31.0, 200), (15.345, 99)]), [Level::Warn]);
    assert!(join(&[(31.0, 200), (31.0, 200), (15.5, 100)]).is_empty());
    // 29.2 to 30.8 about a mean of 30 is 5.3 %; 29.3 to 30.7 is 4.7 %.
    assert_eq!(join(&[(29.2, 200), (30.0, 200), (30.8, 200)]), [Level::Warn]);
    assert!(join(&[(29.3, 200), (30.0, 200), (30.7, 200)]).is_empty());
    assert!(SeedSamples::join(&[]).is_err());
    assert!(SeedSamples::join(&[(31.0, 0)]).is_err());
    assert!(SeedSamples::join(&[(0.0, 200)]).is_err());
}

fn plan(overfill_pct: f64, fill: Fill) -> PacketPlan {
    PacketPlan {
        target_stand: TargetStand::plants_per_m2(200.0).unwrap(),
        survival: Survival::percent(80.0).unwrap(),
        tkw: ThousandKernelWeight::grams(40.0).unwrap(),
        sown_area: GroundArea::square_metres(10.0).unwrap(),
        overfill_pct,
        fill,
    }
}

#[test]
fn overfill_and_the_metering_unit() {
    let remarks = |overfill, fill| levels(&plan(overfill, fill).packet().unwrap().remarks);
    assert_eq!(remarks(0.0, Fill::Weight), [Level::Note]);
    assert!(remarks(0.0, Fill::Count).is_empty());
    assert!(remarks(10.0, Fill::Weight).is_empty());
    assert_eq!(remarks(0.1, Fill::Weight), [Level::Warn]);
    assert_eq!(remarks(60.0, Fill::Weight), [Level::Warn]);
    assert!(plan(-1.0, Fill::Weight).packet().is_err());
    assert!(plan(101.0, Fill::Weight).packet().is_err());
    let low = PacketPlan { survival: Survival::percent(35.0).unwrap(), ..plan(10.0, Fill::Weight) };
    assert_eq!(levels(&low.packet().unwrap().remarks), [Level::Warn]);
    // 200 plants/m2 and 40 g are no soybean's.
    assert_eq!(levels(&plan(10.0, Fill::Weight).crop_remarks(crop("soybean").unwrap())), [Level::Warn, Level::Warn]);
    assert!(plan(10.0, Fill::Weight).crop_remarks(crop("spring wheat").unwrap()).is_empty());
}

#[test]
fn the_formula_can_be_checked_by_hand() {
    assert_eq!(
        plan(10.0, Fill::Weight).packet().unwrap().formula,
        "200.0 plants/m2 / 80.00 % = 250.0 seeds/m2; x 10.00 m2 x 1.10 = 2750.0 seeds; x 40.0 g / 1000 = 110.0 g"
    );
}

#[test]
fn a_reserve_adds_to_the_need_of_a_lot() {
    // Two packets of 110 g and 10 % reserve are 242 g.
    let tkw = ThousandKernelWeight::grams(40.0).unwrap();
    let packets = vec![plan(10.0, Fill::Weight).packet().unwrap(); 2];
    let of = |stock| LotBalance::of(&packets, 10.0, stock, tkw).unwrap();
    assert!((of(300.0).need_grams - 242.0).abs() < 1e-9);
    assert!((of(300.0).left_grams - 58.0).abs() < 1e-9);
    assert!((of(300.0).stock_seeds - 7500.0).abs() < 1e-9);
    assert!(of(242.0).remarks.is_empty());
    let reserve_short = of(230.0);
    assert_eq!(reserve_short.packets_short, 0);
    assert_eq!(reserve_short.remarks[0].sentence, "The packets can be filled, but the reserve is short by 12.0 g.");
    let short = of(150.0);
    assert_eq!(short.packets_short, 1);
    assert_eq!(short.remarks[0].sentence, "The lot is short by 92.0 g; 1 packet(s) cannot be filled.");
    assert!(LotBalance::of(&packets, -1.0, 300.0, tkw).is_err());
    assert!(LotBalance::of(&packets, 10.0, -300.0, tkw).is_err());
    assert!(bags(10.0, 0.0).is_err());
    assert!(bags(-10.0, 50.0).is_err());
}

#[test]
fn hoops_and_counts() {
    let (hoop, rows) = (PlotLength::metres(0.76).unwrap(), RowSpacing::centimetres(38.0).unwrap());
    assert_eq!(levels(&hoop_remarks(hoop, rows, 4)), [Level::Note]);
    assert!(hoop_remarks(hoop, rows, 5).is_empty());
    assert!(Stand::of_rows(&[], rows).is_err());
    assert!(Stand::of_quadrats(&[], GroundArea::square_metres(0.25).unwrap()).is_err());
    assert!(Stand::of_hoops(&[], hoop).is_err());
    let bare = [RowCount { plants: 0, length: PlotLength::metres(3.0).unwrap() }];
    assert_eq!(Stand::of_rows(&bare, rows).unwrap().in_plants_per_m2(), 0.0);
}

#[test]
fn calibration_doubts_and_refusals() {
    let spacing = RowSpacing::centimetres(19.0).unwrap();
    let test = |distance_m| CatchTest { rows: 4, row_spacing: spacing, distance_m };
    assert_eq!(levels(&test(14.9).remarks(&[65.0, 65.0, 66.0, 66.0])), [Level::Warn]);
    assert!(test(15.0).remarks(&[65.0, 65.0, 66.0, 66.0]).is_empty());
    let uneven = test(30.0).remarks(&[65.0, 65.0, 65.0, 55.0]);
    assert_eq!(uneven[0].sentence, "Row 4 caught more than 5 % off the mean of the rows.");
    assert!(test(30.0).rate_kg_ha(0.0).is_err());
    assert!(test(0.0).rate_kg_ha(262.0).is_err());
    assert!(CatchTest { rows: 0, ..test(30.0) }.area_m2().is_err());
    assert!(wheel_distance_m(20.0, 0.0).is_err());
    // A drill that gave 110 for 100 is set back: 40 x 100 / 110.
    assert!((new_setting(40.0, 100.0, 110.0).unwrap() - 36.363_636_363_636_36).abs() < 1e-12);
    assert!(new_setting(40.0, 100.0, 0.0).is_err());
    assert!(seeds_per_turn(SeedingRate::seeds_per_m2(50.0).unwrap(), spacing, -2.0).is_err());
}

fn shape(harvested_rows: u32, trim: f64) -> PlotShape {
    PlotShape {
        rows: 8,
        row_spacing: RowSpacing::centimetres(19.0).unwrap(),
        sown_length: PlotLength::metres(9.0).unwrap(),
        alley_share: EndLength::NONE,
        harvested_rows,
        trim_front: EndLength::metres(trim).unwrap(),
        trim_back: EndLength::metres(trim).unwrap(),
    }
}

#[test]
fn plot_shapes() {
    // 3 of 8 rows are 37.5 % of the ground, 4 of 8 are half.
    assert_eq!(levels(&shape(3, 0.0).areas().unwrap().remarks), [Level::Note]);
    assert!(shape(4, 0.0).areas().unwrap().remarks.is_empty());
    let many = shape(9, 0.0).areas().unwrap_err();
    assert_eq!(many.to_string(), "number of harvested rows is 9: must be at most the number of rows sown");
    assert!(shape(0, 0.0).areas().is_err());
    let nothing = shape(6, 4.5).areas().unwrap_err();
    assert_eq!(nothing.to_string(), "harvested length is 0 m: must be above 0 after trimming both ends");
    assert!(EndLength::metres(-0.5).is_err());
}

#[test]
fn moisture_of_a_crop() {
    let yields = |percent, name| {
        let harvest = Harvest {
            mass: PlotMass::grams(3620.0).unwrap(),
            moisture: Some(Moisture::percent(percent).unwrap()),
            length: PlotLength::metres(6.0).unwrap(),
            width: guardrow_agronomy::amount::PlotWidth::metres(1.5).unwrap(),
            standard: StandardMoisture::of_crop(crop(name).unwrap()),
        };
        levels(&harvest.yields_of(crop(name).unwrap()).remarks)
    };
    assert!(yields(12.1, "soybean").is_empty());
    assert_eq!(yields(30.1, "soybean"), [Level::Warn]);
    assert!(yields(30.1, "barley").is_empty());
    // A fraction in the place of a percentage is doubted twice: as a fraction and as a moisture of this crop.
    assert_eq!(yields(0.121, "soybean"), [Level::Warn, Level::Warn]);
    for (percent, doubts) in [(2.9, 1), (3.0, 0), (40.0, 0), (40.1, 1)] {
        assert_eq!(check_for_crop(Field::Moisture, percent, crop("barley").unwrap()).len(), doubts, "{percent}");
    }
}

/// Median 3.5 and one robust standard deviation of 1.4826 x 0.1: four of them are 0.593.
#[test]
fn four_robust_standard_deviations() {
    let with = |mass| check_plot_masses(&[3.4, 3.4, 3.5, 3.5, 3.5, 3.6, 3.6, mass, 3.4, 3.6]).len();
    assert_eq!((with(4.09), with(4.10)), (0, 1));
}

/// Handbook 1.3, 4.1, 7.2, 7.4.
#[test]
fn the_trades_own_decimals() {
    for (unit, value, expected) in [
        (Unit::BuPerAc, 59.6334, "59.6"),
        (Unit::KgPerHa, 4010.44, "4010"),
        (Unit::TonnePerHa, 4.01044, "4.01"),
        (Unit::LbPerAc, 64.2203, "64"),
        (Unit::Percent, 12.14, "12.1"),
        (Unit::SquareMetre, 8.55, "8.55"),
        (Unit::KgPerHectolitre, 71.62, "71.6"),
    ] {
        assert_eq!(shown(value, customary_decimals(unit).unwrap()), expected, "{unit}");
    }
    assert_eq!(customary_decimals(Unit::Score), None);
}

#[test]
fn a_source_key_is_explained() {
    let barley = crop("barley").unwrap();
    let key = &barley.standard_moisture_pct.as_ref().unwrap().source;
    assert!(source(key).unwrap().contains("C.R.C. c. 890"));
    assert_eq!(source("no such key"), None);
}
