//! What must hold for all values.

use guardrow_agronomy::amount::{GroundArea, PlotLength, PlotWidth, RowSpacing};
use guardrow_agronomy::crop::{Bushel, crop, crops};
use guardrow_agronomy::harvest::{Moisture, PlotMass, StandardMoisture};
use guardrow_agronomy::packet::{Fill, LotBalance, PacketPlan};
use guardrow_agronomy::rounding::{earned_decimals, half_away, shown, up_to_step};
use guardrow_agronomy::seed::{FieldEmergence, Germination, SeedingRate, Survival, TargetStand, ThousandKernelWeight};
use guardrow_agronomy::stand::{RowCount, Stand};
use guardrow_agronomy::unit::{DecimalMark, Dimension, Quantity, Unit, parse_number};
use proptest::prelude::*;

/// Three roundings to the nearest double on the way there and three back.
fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 8.0 * f64::EPSILON * a.abs().max(b.abs())
}

fn percent() -> impl Strategy<Value = f64> {
    0.01..=100.0
}

#[test]
fn every_pair_of_units_in_a_dimension_converts_there_and_back() {
    let bushel = Bushel::pounds(60.0).unwrap();
    let mut pairs = 0;
    for &from in Unit::ALL {
        for to in Unit::of(from.dimension()) {
            let same_things = from.counted().is_none() || to.counted().is_none() || from.counted() == to.counted();
            if !same_things {
                assert!(Quantity::new(1.0, from).to(to).is_err(), "{from} to {to}");
                continue;
            }
            for value in [0.0, 1.0, 7.3, -250.0, 123_456.789] {
                let there = Quantity::new(value, from).to_with_bushel(to, bushel).unwrap();
                let back = Quantity::new(there, to).to_with_bushel(from, bushel).unwrap();
                // Temperatures have an offset: absolute closeness at the size of the offset.
                let room =
                    if from.dimension() == Dimension::Temperature { 1e-13 * value.abs().max(100.0) } else { 0.0 };
                assert!(
                    close(value, back) || (value - back).abs() <= room,
                    "{value} {from} to {to}: {there}, back {back}"
                );
            }
            pairs += 1;
        }
    }
    assert!(pairs > 400, "{pairs}");
}

#[test]
fn units_of_other_dimensions_never_convert() {
    let bushel = Bushel::pounds(60.0).unwrap();
    for &from in Unit::ALL {
        for &to in Unit::ALL.iter().filter(|to| to.dimension() != from.dimension()) {
            assert!(Quantity::new(1.0, from).to_with_bushel(to, bushel).is_err(), "{from} to {to}");
        }
    }
}

#[test]
fn the_canonical_unit_of_a_dimension_has_that_dimension() {
    for &unit in Unit::ALL {
        assert_eq!(unit.dimension().canonical().dimension(), unit.dimension());
    }
}

#[test]
fn quantities_and_units_cross_to_the_web_as_text() {
    let rate = Quantity::new(250.0, Unit::KgPerHa);
    assert_eq!(serde_json::to_string(&rate).unwrap(), "\"250 kg/ha\"");
    assert_eq!(serde_json::from_str::<Quantity>("\"250 kg/ha\"").unwrap(), rate);
    assert_eq!(serde_json::to_string(&Unit::PlantsPerM2).unwrap(), "\"plants/m2\"");
    let day = Quantity::parse("2026-05-14").unwrap();
    assert_eq!((day.unit, day.to_string().as_str()), (Unit::Date, "2026-05-14"));
    let error = serde_json::from_str::<Quantity>("\"250\"").unwrap_err().to_string();
    assert!(error.contains("has no unit") && error.contains("Write the unit"), "{error}");
    assert_eq!(Quantity::new(-0.0, Unit::Percent).to_string(), "0 %");
}

#[test]
fn a_crop_describes_itself_to_the_web() {
    use utoipa::PartialSchema;
    let schema = serde_json::to_value(guardrow_agronomy::Crop::schema()).unwrap();
    assert!(schema["properties"]["standard_moisture_pct"].is_object());
    assert_eq!(serde_json::to_value(Unit::schema()).unwrap()["type"], "string");
    let barley = serde_json::to_value(crop("barley").unwrap()).unwrap();
    assert_eq!(barley["bushel_lb"]["value"], 48.0);
    assert_eq!(barley["bushel_lb"]["source"], "ABBU");
}

proptest! {
    #[test]
    fn a_quantity_reads_back_as_it_was_written(value in -1e12..1e12f64, index in 0..Unit::ALL.len()) {
        let unit = Unit::ALL[index];
        prop_assume!(unit != Unit::Date);
        let quantity = Quantity::new(value, unit);
        prop_assert_eq!(Quantity::parse(&quantity.to_string()), Ok(quantity));
        let comma = quantity.to_string().replacen('.', if value.fract() == 0.0 { "." } else { "," }, 1);
        prop_assert_eq!(Quantity::parse_decimal_comma(&comma), Ok(quantity));
    }

    #[test]
    fn conversion_keeps_order(a in 0.0..1e9f64, b in 0.0..1e9f64, from in 0..Unit::ALL.len(), to in any::<prop::sample::Index>()) {
        let from = Unit::ALL[from];
        let like: Vec<Unit> = Unit::of(from.dimension()).filter(|to| Quantity::new(1.0, from).to(*to).is_ok()).collect();
        let to = like[to.index(like.len())];
        let there = |value| Quantity::new(value, from).to(to).unwrap();
        prop_assert!(a >= b || there(a) <= there(b), "{a} and {b} {from} to {to}");
        prop_assert!(there(a) >= 0.0 || from.dimension() == Dimension::Temperature);
    }

    #[test]
    fn no_text_makes_the_readers_panic(text in "\\PC{0,40}") {
        let _ = Unit::parse(&text);
        let _ = Quantity::parse(&text);
        let _ = Quantity::parse_decimal_comma(&text);
        let _ = parse_number(&text, DecimalMark::Comma);
        let _ = crop(&text);
    }

    #[test]
    fn text_near_a_quantity_never_panics(text in "[-+−]?[0-9]{0,4}[.,eE]?[0-9]{0,4} ?[a-z°²⁻/%1 -]{0,12}") {
        if let Ok(quantity) = Quantity::parse(&text) {
            prop_assert!(quantity.value.is_finite());
        }
    }

    #[test]
    fn survival_is_below_both_of_its_parts(germination in percent(), emergence in percent()) {
        let survival = Survival::product(Germination::percent(germination).unwrap(), FieldEmergence::percent(emergence).unwrap());
        prop_assert!(survival.in_percent() > 0.0);
        prop_assert!(survival.in_percent() <= germination.min(emergence) * (1.0 + 1e-15));
        // Points off the germination are never more generous than the product for the same loss.
        if let Ok(points) = Survival::points_off(Germination::percent(germination).unwrap(), 100.0 - emergence) {
            prop_assert!(points.in_percent() <= survival.in_percent() + 1e-12);
        }
    }

    #[test]
    fn more_survival_needs_less_seed_and_heavier_seed_more_weight(
        stand in 1.0..800.0f64, low in percent(), high in percent(), light in 1.0..800.0f64, heavy in 1.0..800.0f64,
    ) {
        let rate = |survival| SeedingRate::for_stand(TargetStand::plants_per_m2(stand).unwrap(), Survival::percent(survival).unwrap());
        let (low, high) = (low.min(high), low.max(high));
        prop_assert!(rate(low).in_seeds_per_m2() >= rate(high).in_seeds_per_m2());
        prop_assert!(rate(high).in_seeds_per_m2() >= stand * (1.0 - 1e-15));
        let tkw = |grams| ThousandKernelWeight::grams(grams).unwrap();
        let (light, heavy) = (light.min(heavy), light.max(heavy));
        prop_assert!(rate(high).in_kg_per_ha(tkw(light)) <= rate(high).in_kg_per_ha(tkw(heavy)));
        let back = SeedingRate::kg_per_ha(rate(high).in_kg_per_ha(tkw(heavy)), tkw(heavy)).unwrap();
        prop_assert!(close(back.in_seeds_per_m2(), rate(high).in_seeds_per_m2()));
    }

    /// Sow a rate, count every plant that the rate promises: the target comes back.
    #[test]
    fn the_stand_that_was_aimed_at_is_counted(stand in 1.0..800.0f64, survival in percent(), spacing in 0.05..2.0f64) {
        let survival = Survival::percent(survival).unwrap();
        let target = TargetStand::plants_per_m2(stand).unwrap();
        let rate = SeedingRate::for_stand(target, survival);
        let counted = Stand::plants_per_m2(rate.in_seeds_per_m2() * survival.in_share()).unwrap();
        prop_assert!(close(counted.achieved(target).percent, 100.0));
        prop_assert!(close(counted.emergence(rate).percent, survival.in_percent()));
        let spacing = RowSpacing::metres(spacing).unwrap();
        prop_assert!(close(rate.seeds_per_metre_of_row(spacing) * rate.seed_spacing_cm(spacing), 100.0));
    }

    #[test]
    fn splitting_a_row_count_changes_nothing(plants in 0..500u32, more in 0..500u32, length in 0.1..50.0f64, spacing in 0.05..2.0f64) {
        let spacing = RowSpacing::metres(spacing).unwrap();
        let row = |plants, length| RowCount { plants, length: PlotLength::metres(length).unwrap() };
        let two = Stand::of_rows(&[row(plants, length), row(more, length)], spacing).unwrap();
        let one = Stand::of_rows(&[row(plants + more, 2.0 * length)], spacing).unwrap();
        prop_assert!(close(two.in_plants_per_m2(), one.in_plants_per_m2()));
    }

    #[test]
    fn a_packet_never_holds_too_few_seeds(
        stand in 1.0..800.0f64, survival in percent(), grams in 0.5..800.0f64, width in 0.2..10.0f64, length in 0.5..50.0f64,
        overfill_pct in 0.0..=100.0f64, counted in any::<bool>(),
    ) {
        let plan = PacketPlan {
            target_stand: TargetStand::plants_per_m2(stand).unwrap(),
            survival: Survival::percent(survival).unwrap(),
            tkw: ThousandKernelWeight::grams(grams).unwrap(),
            sown_area: GroundArea::of_plot(PlotWidth::metres(width).unwrap(), PlotLength::metres(length).unwrap()),
            overfill_pct,
            fill: if counted { Fill::Count } else { Fill::Weight },
        };
        let packet = plan.packet().unwrap();
        prop_assert!(packet.seeds as f64 >= packet.seeds_exact * (1.0 - 1e-9));
        prop_assert!((packet.seeds as f64) < packet.seeds_exact + 1.0);
        let step = if packet.grams_exact < 10.0 { 0.01 } else { 0.1 };
        prop_assert!((packet.grams - packet.grams_exact).abs() <= step / 2.0 * (1.0 + 1e-9));
        // A lot that holds exactly its packets is not short, and one that holds nothing is short of all.
        let packets = vec![packet.clone(); 3];
        let full = LotBalance::of(&packets, 0.0, packet.grams_exact * 3.0, plan.tkw).unwrap();
        prop_assert_eq!((full.packets_short, full.remarks.len()), (0, 0));
        let empty = LotBalance::of(&packets, 10.0, 0.0, plan.tkw).unwrap();
        prop_assert_eq!((empty.packets_short, empty.remarks.len()), (3, 1));
    }

    #[test]
    fn standardising_keeps_the_dry_matter(mass in 0.0..1e4f64, moisture in 0.0..99.0f64, standard in 0.0..99.0f64) {
        let (wet, at) = (Moisture::percent(moisture).unwrap(), StandardMoisture::percent(standard).unwrap());
        let ours = PlotMass::kilograms(mass).unwrap().at_standard(wet, at).in_kilograms();
        prop_assert!((ours * (100.0 - standard) - mass * (100.0 - moisture)).abs() <= 1e-9 * mass.max(1e-300));
        // Grain drier than the standard gains, wetter grain loses.
        if mass > 1e-3 && (moisture - standard).abs() > 1e-6 {
            prop_assert_eq!(ours > mass, moisture < standard);
        }
        prop_assert!((wet.in_dry_basis() - Moisture::dry_basis(wet.in_dry_basis()).unwrap().in_dry_basis()).abs() <= 1e-9 * (1.0 + wet.in_dry_basis()));
    }

    #[test]
    fn rounding_moves_at_most_half_a_step_and_is_done_once(value in -1e9..1e9f64, decimals in -4..8i32) {
        let rounded = half_away(value, decimals);
        let step = 10f64.powi(-decimals);
        prop_assert!((rounded - value).abs() <= step / 2.0 + 1e-9 * step.max(value.abs() * 1e-6));
        prop_assert_eq!(half_away(rounded, decimals), rounded);
        prop_assert_eq!(half_away(-value, decimals), -rounded);
        prop_assert_eq!(shown(value, decimals).parse::<f64>().unwrap(), rounded);
        let text = shown(value, decimals);
        let digits = text.split_once('.').map_or(0, |(_, fraction)| fraction.len());
        prop_assert_eq!(digits, usize::try_from(decimals).unwrap_or(0));
    }

    #[test]
    fn the_earned_step_is_a_tenth_to_a_quarter_of_the_error(standard_error in 1e-9..1e9f64) {
        let step = 10f64.powi(-earned_decimals(standard_error).unwrap());
        prop_assert!(step <= standard_error / 4.0 * (1.0 + 1e-9));
        prop_assert!(step * 10.0 > standard_error / 4.0 * (1.0 - 1e-9));
    }

    #[test]
    fn rounding_up_never_goes_down(value in 0.0..1e6f64) {
        for step in [0.1, 1.0, 25.0] {
            let up = up_to_step(value, step);
            prop_assert!(up >= value * (1.0 - 2e-9) - 1e-9);
            prop_assert!(up < value + step);
        }
    }

    #[test]
    fn bushels_come_back_for_every_crop(value in 0.0..1e5f64) {
        for crop in crops().iter().filter(|crop| crop.bushel().is_some()) {
            let kg_ha = Quantity::new(value, Unit::BuPerAc).to_for_crop(Unit::KgPerHa, crop).unwrap();
            prop_assert!(close(Quantity::new(kg_ha, Unit::KgPerHa).to_for_crop(Unit::BuPerAc, crop).unwrap(), value));
            let price = Quantity::new(value, Unit::MoneyPerBu).to_for_crop(Unit::MoneyPerTonne, crop).unwrap();
            let by_weight = kg_ha / 1000.0 * price;
            let by_bushel = value * value * 2.471053814671653;
            prop_assert!((by_weight - by_bushel).abs() <= 1e-12 * by_bushel.max(1e-300));
        }
    }
}
