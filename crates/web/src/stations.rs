//! The station itself and the tables that the pages choose from.

use std::sync::Arc;

use axum::extract::State;
use guardrow_agronomy::crop::Crop;
use guardrow_agronomy::unit::{Dimension, Unit};
use guardrow_station::{Station, StationView};
use serde::Serialize;

use crate::answer::{Answer, ask};
use crate::fault::Fault;

/// The station and what is in it.
#[utoipa::path(get, path = "/api/station", tag = "station",
    responses((status = 200, description = "The station.", body = StationView)))]
pub async fn station(State(station): State<Arc<Station>>) -> Result<Answer<StationView>, Fault> {
    ask(station, Station::view).await.map(Answer)
}

/// A crop that a trial can name.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct CropLine {
    /// Name, as a plan writes it.
    name: &'static str,
    /// Moisture that yields are quoted at, in percent, when known.
    standard_moisture_pct: Option<f64>,
    /// Pounds in a bushel of the Canadian trade, when known.
    bushel_lb: Option<f64>,
    /// Pounds in a bushel of the United States trade, when known.
    bushel_us_lb: Option<f64>,
}

/// The crops that a trial can name.
#[utoipa::path(get, path = "/api/crops", tag = "station",
    responses((status = 200, description = "One line per crop.", body = Vec<CropLine>)))]
pub async fn crops() -> Answer<Vec<CropLine>> {
    let line = |crop: &'static Crop| CropLine {
        name: &crop.name,
        standard_moisture_pct: crop.standard_moisture_pct.as_ref().map(|known| known.value),
        bushel_lb: crop.bushel_lb.as_ref().map(|known| known.value),
        bushel_us_lb: crop.bushel_us_lb.as_ref().map(|known| known.value),
    };
    Answer(guardrow_agronomy::crop::crops().iter().map(line).collect())
}

/// A unit that a value can be in.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct UnitLine {
    /// Symbol, as a value writes it.
    symbol: &'static str,
    /// What it measures; units of one dimension convert into each other.
    dimension: Dimension,
}

/// The units that a value can be in.
#[utoipa::path(get, path = "/api/units", tag = "station",
    responses((status = 200, description = "One line per unit.", body = Vec<UnitLine>)))]
pub async fn units() -> Answer<Vec<UnitLine>> {
    let line = |unit: &Unit| UnitLine { symbol: unit.symbol(), dimension: unit.dimension() };
    Answer(Unit::ALL.iter().map(line).collect())
}
