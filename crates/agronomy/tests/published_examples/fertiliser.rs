//! Handbook section 5.1.

use guardrow_agronomy::amount::GroundArea;
use guardrow_agronomy::fertiliser::{
    Analysis, K_IN_K2O, Nutrient, Nutrients, P_IN_P2O5, mixture, plot_grams, plot_millilitres, shown_grams,
};

use crate::printed;

fn analysis(nitrogen: f64, phosphate: f64, potash: f64) -> Analysis {
    Analysis::percent(Nutrients { nitrogen, phosphate, potash, sulphur: 0.0 }).unwrap()
}

/// Handbook 5.1, computed, on a plot of 9 x 1.52 m.
#[test]
fn granular_products() {
    let area = GroundArea::square_metres(9.0 * 1.52).unwrap();
    let urea = analysis(46.0, 0.0, 0.0).product_kg_ha(Nutrient::Nitrogen, 90.0).unwrap();
    printed(urea, 195.65, 2);
    printed(plot_grams(urea, area).unwrap(), 267.7, 1);
    let phosphate = mixture(
        Nutrients { phosphate: 30.0, ..Nutrients::default() },
        &[(Nutrient::Phosphate, analysis(11.0, 52.0, 0.0))],
    )
    .unwrap();
    printed(phosphate.product_kg_ha[0], 57.69, 2);
    printed(phosphate.applied.nitrogen, 6.35, 2);
    printed(plot_grams(phosphate.product_kg_ha[0], area).unwrap(), 78.9, 1);
}

/// Handbook 5.1, computed: 90 kg N as 28-0-0 at 1.28 kg/L.
#[test]
fn liquid_products() {
    let litres = analysis(28.0, 0.0, 0.0).product_l_ha(Nutrient::Nitrogen, 90.0, 1.28).unwrap();
    printed(litres, 251.1, 1);
    printed(plot_millilitres(litres, GroundArea::square_metres(13.68).unwrap()).unwrap(), 343.5, 1);
    assert!(analysis(28.0, 0.0, 0.0).product_l_ha(Nutrient::Nitrogen, 90.0, 0.0).is_err());
}

/// Published (personal page, arithmetic only): 200 lb N with 10-10-10 takes 2000 lb.
#[test]
fn ten_ten_ten() {
    assert_eq!(analysis(10.0, 10.0, 10.0).product_kg_ha(Nutrient::Nitrogen, 200.0), Ok(2000.0));
}

/// Handbook 5.1: what a product brings besides is credited, over-supply above 5 % and shortage are told.
#[test]
fn several_nutrients() {
    let need = Nutrients { nitrogen: 90.0, phosphate: 30.0, ..Nutrients::default() };
    let products = [(Nutrient::Phosphate, analysis(11.0, 52.0, 0.0)), (Nutrient::Nitrogen, analysis(46.0, 0.0, 0.0))];
    let both = mixture(need, &products).unwrap();
    printed(both.applied.nitrogen, 90.0, 9);
    printed(both.applied.phosphate, 30.0, 9);
    printed(both.product_kg_ha[1], (90.0 - 30.0 * 11.0 / 52.0) / 0.46, 9);
    assert!(both.remarks.is_empty(), "{:?}", both.remarks);
    // The other way round nitrogen is brought twice: 96.35 for 90, 7 % too much.
    let reversed = mixture(need, &[products[1], products[0]]).unwrap();
    assert_eq!(reversed.remarks.len(), 1);
    assert!(reversed.remarks[0].sentence.contains("96.3 kg/ha N"), "{}", reversed.remarks[0].sentence);
    let short = mixture(need, &products[..1]).unwrap();
    assert!(short.remarks[0].sentence.starts_with("Only 6.3 kg/ha N"), "{}", short.remarks[0].sentence);
}

/// A check plot is a rate of zero: it prints 0 g and is not dropped.
#[test]
fn a_check_plot_prints_zero() {
    let none = analysis(46.0, 0.0, 0.0).product_kg_ha(Nutrient::Nitrogen, 0.0).unwrap();
    assert_eq!(shown_grams(plot_grams(none, GroundArea::square_metres(13.68).unwrap()).unwrap()), "0");
    assert_eq!(shown_grams(78.94), "78.9");
    assert_eq!(shown_grams(267.65), "268");
}

#[test]
fn impossible_analyses_are_refused() {
    let parts = |nitrogen, phosphate| Analysis::percent(Nutrients { nitrogen, phosphate, ..Nutrients::default() });
    assert!(parts(60.0, 50.0).is_err());
    assert!(parts(-1.0, 50.0).is_err());
    assert!(parts(f64::NAN, 50.0).is_err());
    assert!(analysis(46.0, 0.0, 0.0).product_kg_ha(Nutrient::Phosphate, 30.0).is_err());
    assert!(analysis(46.0, 0.0, 0.0).product_kg_ha(Nutrient::Nitrogen, -30.0).is_err());
}

/// Shares of P in P2O5 and K in K2O from standard atomic masses (P 30.973762, K 39.0983, O 15.999; IUPAC, from memory).
/// The handbook prints 0.4364 and, from memory, 0.8301; the second rounds to 0.8302.
#[test]
fn oxides() {
    let (p, k, o) = (30.973762, 39.0983, 15.999);
    printed(P_IN_P2O5, 2.0 * p / (2.0 * p + 5.0 * o), 5);
    printed(K_IN_K2O, 2.0 * k / (2.0 * k + o), 5);
}
