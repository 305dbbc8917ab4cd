//! The seed lots of the invented station.

use guardrow_station::Lot;

/// The three grades that were sieved from one lot of faba bean.
pub(crate) fn faba_bean() -> Vec<Lot> {
    let lot = |code: &str, grade: &str, tkw: f64, germination: f64| Lot {
        code: code.to_owned(),
        crop: "faba bean".to_owned(),
        variety: format!("station stock, sieved: {grade}"),
        thousand_kernel_weight_g: Some(tkw),
        germination_pct: Some(germination),
        germination_tested: Some(jiff::civil::date(2025, 2, 24)),
        treatment: String::new(),
        on_hand: Some(kilograms("12 kg")),
        caution: String::new(),
    };
    vec![
        lot("FB-S", "small, under 8 mm", 402.0, 91.0),
        lot("FB-M", "medium, 8 to 9 mm", 496.0, 94.0),
        lot("FB-L", "large, over 9 mm", 611.0, 93.0),
    ]
}

/// The oat lot.
pub(crate) fn oat() -> Lot {
    Lot {
        code: "OA-25".to_owned(),
        crop: "oat".to_owned(),
        variety: "station stock".to_owned(),
        thousand_kernel_weight_g: Some(36.4),
        germination_pct: Some(95.0),
        germination_tested: Some(jiff::civil::date(2025, 2, 10)),
        treatment: "dusted against smut (invented product)".to_owned(),
        on_hand: Some(kilograms("40 kg")),
        caution: "Treated seed: gloves and mask; never for food or feed. The product label comes first.".to_owned(),
    }
}

/// The flax lot.
pub(crate) fn flax() -> Lot {
    Lot {
        code: "FX-26".to_owned(),
        crop: "flax".to_owned(),
        variety: "bought in, brown seed".to_owned(),
        thousand_kernel_weight_g: Some(5.9),
        germination_pct: Some(89.0),
        germination_tested: Some(jiff::civil::date(2026, 1, 19)),
        treatment: String::new(),
        on_hand: Some(kilograms("6 kg")),
        caution: String::new(),
    }
}

fn kilograms(text: &str) -> guardrow_agronomy::unit::Quantity {
    text.parse().expect("written in this file")
}
