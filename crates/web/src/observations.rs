//! Observations: shown, typed, brought in by file, and the harvest made of them.

use std::sync::Arc;

use axum::extract::State;
use guardrow_station::{
    CellEntry, HarvestView, IntakeReport, ObservationTable, ShowObservations, Station, TypedValues,
};
use serde::Deserialize;

use crate::answer::{Answer, ask};
use crate::fault::{Fault, FaultKind};
use crate::reading::{Asked, Named, Told, Uploaded};

type Shared = State<Arc<Station>>;

/// The observations of a trial, now or as they were known at a moment.
#[utoipa::path(get, path = "/api/trials/{code}/observations", tag = "observations",
    params(("code" = String, Path, description = "Code of the trial."), ShowObservations),
    responses((status = 200, description = "One row per plot in walking order.", body = ObservationTable)))]
pub async fn observations(
    State(station): Shared,
    Named(code): Named<String>,
    Asked(show): Asked<ShowObservations>,
) -> Result<Answer<ObservationTable>, Fault> {
    ask(station, move |station| station.observations(&code, &show)).await.map(Answer)
}

/// Records values that were typed together: all of them or none.
#[utoipa::path(post, path = "/api/trials/{code}/observations", tag = "observations",
    params(("code" = String, Path, description = "Code of the trial.")), request_body = TypedValues,
    responses((status = 200, description = "What was written.", body = ObservationTable)))]
pub async fn record(
    State(station): Shared,
    Named(code): Named<String>,
    Told(values): Told<TypedValues>,
) -> Result<Answer<ObservationTable>, Fault> {
    ask(station, move |station| station.record(&code, &values)).await.map(Answer)
}

/// Which cell.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct WhichCell {
    /// Plot number.
    plot: u32,
    /// Key of the measure.
    measure: String,
}

/// Everything that was ever entered for one plot and measure, oldest first.
#[utoipa::path(get, path = "/api/trials/{code}/history", tag = "observations",
    params(("code" = String, Path, description = "Code of the trial."), WhichCell),
    responses((status = 200, description = "The entries.", body = Vec<CellEntry>)))]
pub async fn history(
    State(station): Shared,
    Named(code): Named<String>,
    Asked(cell): Asked<WhichCell>,
) -> Result<Answer<Vec<CellEntry>>, Fault> {
    ask(station, move |station| station.history(&code, cell.plot, &cell.measure)).await.map(Answer)
}

/// Whether a file is only checked or also accepted.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
#[serde(default, deny_unknown_fields)]
#[into_params(parameter_in = Query)]
#[derive(Default)]
pub struct Intake {
    /// Accept the file if nothing stands against it; otherwise it is only checked.
    accept: bool,
    /// Who accepts it; needed to accept.
    by: String,
}

/// A file to upload.
#[derive(utoipa::ToSchema)]
#[allow(dead_code, reason = "describes the form for the OpenAPI document")]
pub struct IntakeForm {
    /// The file: a filled field sheet, a workbook, or a table with separators.
    #[schema(format = Binary, content_media_type = "application/octet-stream")]
    file: String,
}

/// Checks a file row by row, and accepts it whole if asked to.
#[utoipa::path(post, path = "/api/trials/{code}/intake", tag = "observations",
    params(("code" = String, Path, description = "Code of the trial."), Intake),
    request_body(content = IntakeForm, content_type = "multipart/form-data"),
    responses((status = 200, description = "What was understood of it.", body = IntakeReport)))]
pub async fn intake(
    State(station): Shared,
    Named(code): Named<String>,
    Asked(asked): Asked<Intake>,
    Uploaded(file): Uploaded,
) -> Result<Answer<IntakeReport>, Fault> {
    if !asked.accept {
        return ask(station, move |station| station.check_file(&code, &file)).await.map(Answer);
    }
    if asked.by.trim().is_empty() {
        let what = "the file cannot be accepted without the name of who accepts it";
        return Err(Fault::new(FaultKind::NotUnderstood, what, "?by", "add by=NAME to the address"));
    }
    ask(station, move |station| station.accept_file(&code, &file, &asked.by)).await.map(Answer)
}

/// Yields of a trial, as harvested and at standard moisture.
#[utoipa::path(get, path = "/api/trials/{code}/harvest", tag = "observations",
    params(("code" = String, Path, description = "Code of the trial.")),
    responses((status = 200, description = "One line per plot.", body = HarvestView)))]
pub async fn harvest(State(station): Shared, Named(code): Named<String>) -> Result<Answer<HarvestView>, Fault> {
    ask(station, move |station| station.harvest(&code)).await.map(Answer)
}
