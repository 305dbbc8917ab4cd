//! Layouts and their maps.

use std::sync::Arc;

use axum::extract::State;
use guardrow_station::{DrawLayout, LayoutView, ShowMap, Station};
use serde::Deserialize;

use crate::answer::{Answer, Document, ask};
use crate::fault::Fault;
use crate::reading::{Asked, Named, Told};

type Shared = State<Arc<Station>>;

/// Which layout.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct WhichLayout {
    /// Version of the layout; the latest when absent.
    version: Option<u32>,
}

/// Draws a layout.
#[utoipa::path(post, path = "/api/trials/{code}/layout", tag = "layout",
    params(("code" = String, Path, description = "Code of the trial.")), request_body = DrawLayout,
    responses((status = 200, description = "The layout that was drawn.", body = LayoutView)))]
pub async fn draw(
    State(station): Shared,
    Named(code): Named<String>,
    Told(wish): Told<DrawLayout>,
) -> Result<Answer<LayoutView>, Fault> {
    ask(station, move |station| station.draw_layout(&code, &wish)).await.map(Answer)
}

/// A layout, the latest or an earlier one.
#[utoipa::path(get, path = "/api/trials/{code}/layout", tag = "layout",
    params(("code" = String, Path, description = "Code of the trial."), WhichLayout),
    responses((status = 200, description = "The layout.", body = LayoutView)))]
pub async fn layout(
    State(station): Shared,
    Named(code): Named<String>,
    Asked(which): Asked<WhichLayout>,
) -> Result<Answer<LayoutView>, Fault> {
    ask(station, move |station| station.layout(&code, which.version)).await.map(Answer)
}

/// The plot map as a drawing.
#[utoipa::path(get, path = "/api/trials/{code}/map.svg", tag = "layout",
    params(("code" = String, Path, description = "Code of the trial."), ShowMap),
    responses((status = 200, description = "The map.", body = String, content_type = "image/svg+xml")))]
pub async fn map(
    State(station): Shared,
    Named(code): Named<String>,
    Asked(show): Asked<ShowMap>,
) -> Result<Document, Fault> {
    let name = format!("{}-map.svg", code.replace(['/', '\\'], "-"));
    let drawing = ask(station, move |station| station.map_svg(&code, &show)).await?;
    Ok(Document { content_type: "image/svg+xml", inline: true, name, bytes: drawing.into_bytes() })
}
