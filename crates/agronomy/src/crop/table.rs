//! Reads the embedded crop table.

use std::collections::HashMap;
use std::sync::LazyLock;

use super::{Crop, GrowingPoint, Sourced, SourcedRange};

const CROPS_CSV: &str = include_str!("../../data/crops.csv");
const SOURCES_CSV: &str = include_str!("../../data/crop-sources.csv");

static CROPS: LazyLock<Vec<Crop>> = LazyLock::new(|| rows(CROPS_CSV).map(|row| crop_of(&row)).collect());
static SOURCES: LazyLock<HashMap<String, String>> =
    LazyLock::new(|| rows(SOURCES_CSV).map(|row| (row.text("key"), row.text("source"))).collect());

pub(super) fn crops() -> &'static [Crop] {
    &CROPS
}

pub(super) fn sources() -> &'static HashMap<String, String> {
    &SOURCES
}

/// One row, by column name. The tables are part of the program, so a fault in them is ours and the tests read every
/// cell.
struct Row(HashMap<String, String>);

fn rows(csv_text: &str) -> impl Iterator<Item = Row> {
    let reader = csv::Reader::from_reader(csv_text.as_bytes());
    reader.into_deserialize().map(|row| Row(row.expect("the embedded table is read whole by the tests")))
}

impl Row {
    fn text(&self, column: &str) -> String {
        self.0.get(column).expect("every column is named in the embedded table").clone()
    }

    fn sourced_text(&self, column: &str) -> Option<Sourced<String>> {
        let value = self.text(column);
        (!value.is_empty()).then(|| Sourced { value, source: self.text(&format!("{column}__src")) })
    }

    fn number(&self, column: &str) -> Option<Sourced<f64>> {
        let Sourced { value, source } = self.sourced_text(column)?;
        let value = value.parse().expect("the tests read every number of the embedded table");
        Some(Sourced { value, source })
    }

    fn range(&self, low: &str, high: &str) -> Option<SourcedRange> {
        Some(SourcedRange { low: self.number(low)?, high: self.number(high)? })
    }
}

fn crop_of(row: &Row) -> Crop {
    let words = |column| row.sourced_text(column).expect("every crop has a Latin name and a season");
    Crop {
        name: row.text("crop"),
        latin_name: words("latin_name"),
        season: words("season"),
        tkw_g: row.range("tkw_low_g", "tkw_high_g"),
        standard_moisture_pct: row.number("standard_moisture_pct"),
        straight_moisture_canada_pct: row.number("straight_max_moisture_pct_CA"),
        bushel_lb: row.number("legal_bushel_lb"),
        bushel_us_lb: row.number("legal_bushel_lb_US"),
        test_weight_kg_hl: row.number("test_weight_typical_kg_hl"),
        test_weight_top_grade_canada_kg_hl: row.number("test_weight_min_no1_kg_hl_CA"),
        stand_m2: row.range("stand_low_m2", "stand_high_m2"),
        seedbed_minimum_deg_c: row.number("min_seedbed_temp_C"),
        seedbed_advised_deg_c: row.number("advised_seedbed_temp_C"),
        heat_base_deg_c: row.number("gdd_base_C"),
        heat_upper_deg_c: row.number("gdd_upper_C"),
        growing_point: row.sourced_text("growing_point_young").map(growing_point),
        regrows_from_buds: row.sourced_text("regrows_from_buds"),
        spring_frost_damage_deg_c: row.number("spring_frost_damage_C"),
        spring_frost_kill_deg_c: row.number("spring_frost_kill_C"),
        fall_frost_kill_deg_c: row.number("fall_frost_kill_C"),
        maturity_measure: row.sourced_text("maturity_measure"),
        maturity: row.range("maturity_low", "maturity_high"),
        nodulating: row
            .sourced_text("nodulating")
            .map(|text| Sourced { value: text.value == "yes", source: text.source }),
        depth_cm: row.range("depth_low_cm", "depth_high_cm"),
        notes: row.text("notes"),
    }
}

fn growing_point(text: Sourced<String>) -> Sourced<GrowingPoint> {
    let value = if text.value == "above" { GrowingPoint::Above } else { GrowingPoint::Below };
    Sourced { value, source: text.source }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cell_of_the_table_is_read() {
        assert_eq!(crops().len(), 20);
        for row in rows(CROPS_CSV) {
            for (column, value) in &row.0 {
                let Some(source_column) = row.0.get(&format!("{column}__src")) else { continue };
                assert_eq!(value.is_empty(), source_column == "none", "{}: {column}", row.text("crop"));
                let keyed =
                    ["memory", "none"].contains(&source_column.as_str()) || sources().contains_key(source_column);
                assert!(keyed, "{}: {column} has the unexplained source {source_column}", row.text("crop"));
            }
            assert!(["above", "below"].contains(&row.text("growing_point_young").as_str()));
            assert!(["yes", "no"].contains(&row.text("nodulating").as_str()));
        }
    }

    #[test]
    fn ranges_run_upwards_and_names_are_unique() {
        for (index, crop) in crops().iter().enumerate() {
            assert!(crops()[..index].iter().all(|other| other.name != crop.name), "{}", crop.name);
            for range in [&crop.tkw_g, &crop.stand_m2, &crop.maturity, &crop.depth_cm].into_iter().flatten() {
                assert!(range.low.value <= range.high.value, "{}: {range:?}", crop.name);
            }
        }
    }

    #[test]
    fn an_unknown_value_stays_unknown() {
        let quinoa = crops().iter().find(|crop| crop.name == "quinoa").unwrap();
        assert_eq!(quinoa.standard_moisture_pct, None);
        assert_eq!(quinoa.bushel(), None);
        assert_eq!(quinoa.stand_m2, None);
    }
}
