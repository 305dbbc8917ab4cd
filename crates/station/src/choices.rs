//! What a person can choose from while writing a plan: crops and units.

use guardrow_agronomy::crop::Crop;
use guardrow_agronomy::unit::{Dimension, Unit};
use serde::Serialize;

/// A crop that a trial can name.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct CropLine {
    /// Name, as a plan writes it.
    pub name: &'static str,
    /// Moisture that yields are quoted at, in percent, when known.
    pub standard_moisture_pct: Option<f64>,
    /// Pounds in a bushel of the Canadian trade, when known.
    pub bushel_lb: Option<f64>,
    /// Pounds in a bushel of the United States trade, when known.
    pub bushel_us_lb: Option<f64>,
}

/// A unit that a value can be in.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct UnitLine {
    /// Symbol, as a value writes it.
    pub symbol: &'static str,
    /// What it measures; units of one dimension convert into each other.
    pub dimension: Dimension,
}

/// The crops that a trial can name, as in the crop table.
pub fn crops() -> Vec<CropLine> {
    let line = |crop: &'static Crop| CropLine {
        name: &crop.name,
        standard_moisture_pct: crop.standard_moisture_pct.as_ref().map(|known| known.value),
        bushel_lb: crop.bushel_lb.as_ref().map(|known| known.value),
        bushel_us_lb: crop.bushel_us_lb.as_ref().map(|known| known.value),
    };
    guardrow_agronomy::crop::crops().iter().map(line).collect()
}

/// The units that a value can be in, as in the unit table.
pub fn units() -> Vec<UnitLine> {
    Unit::ALL.iter().map(|unit| UnitLine { symbol: unit.symbol(), dimension: unit.dimension() }).collect()
}
