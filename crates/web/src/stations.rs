//! The station itself and the tables that the pages choose from.

use std::sync::Arc;

use axum::extract::State;
use guardrow_station::{CropLine, Station, StationView, UnitLine};

use crate::answer::{Answer, ask};
use crate::fault::Fault;

/// The station and what is in it.
#[utoipa::path(get, path = "/api/station", tag = "station",
    responses((status = 200, description = "The station.", body = StationView)))]
pub async fn station(State(station): State<Arc<Station>>) -> Result<Answer<StationView>, Fault> {
    ask(station, Station::view).await.map(Answer)
}

/// The crops that a trial can name.
#[utoipa::path(get, path = "/api/crops", tag = "station",
    responses((status = 200, description = "One line per crop.", body = Vec<CropLine>)))]
pub async fn crops() -> Answer<Vec<CropLine>> {
    Answer(guardrow_station::crops())
}

/// The units that a value can be in.
#[utoipa::path(get, path = "/api/units", tag = "station",
    responses((status = 200, description = "One line per unit.", body = Vec<UnitLine>)))]
pub async fn units() -> Answer<Vec<UnitLine>> {
    Answer(guardrow_station::units())
}
