//! The routes, and what lies around all of them.

use std::any::Any;
use std::sync::Arc;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::{Method, Uri};
use axum::middleware::{from_fn, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use guardrow_station::Station;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::compression::predicate::{DefaultPredicate, NotForContentType, Predicate};
use tower_http::trace::TraceLayer;
use utoipa_axum::router::{OpenApiRouter, UtoipaMethodRouter};
use utoipa_axum::routes;

use crate::fault::{Fault, FaultKind};
use crate::gate::{Gate, admit, harden};
use crate::{layouts, observations, openapi, pages, publications, stations, supplies, trials};

/// The most bytes of a JSON request.
pub const JSON_LIMIT_BYTES: usize = 4 * 1024 * 1024;

/// The most bytes of an uploaded file with its form.
pub const UPLOAD_LIMIT_BYTES: usize = 64 * 1024 * 1024;

/// Everything the server answers, under the names of this machine on any port.
pub fn router(station: Arc<Station>) -> Router {
    surrounded(station, Gate { port: None })
}

/// Everything the server answers, for requests that name this machine and this port.
pub fn router_on_port(station: Arc<Station>, port: u16) -> Router {
    surrounded(station, Gate { port: Some(port) })
}

/// A route with the description of its operations and of the types that these name.
type Described = UtoipaMethodRouter<Arc<Station>>;

/// The interface's routes with their descriptions, which thereby cannot differ.
pub(crate) fn interface() -> OpenApiRouter<Arc<Station>> {
    let json = told_in_json().into_iter().fold(OpenApiRouter::new(), OpenApiRouter::routes);
    let upload = OpenApiRouter::new().routes(routes!(observations::intake));
    let json = json.layer(DefaultBodyLimit::max(JSON_LIMIT_BYTES));
    json.merge(upload.layer(DefaultBodyLimit::max(UPLOAD_LIMIT_BYTES)))
}

fn told_in_json() -> Vec<Described> {
    vec![
        routes!(stations::station),
        routes!(stations::crops),
        routes!(stations::units),
        routes!(trials::start),
        routes!(trials::trial),
        routes!(trials::save_plan),
        routes!(trials::check_plan),
        routes!(trials::plan_file),
        routes!(trials::judge_premise),
        routes!(trials::add_note),
        routes!(layouts::layout, layouts::draw),
        routes!(layouts::map),
        routes!(supplies::save_lot),
        routes!(supplies::packets),
        routes!(observations::observations, observations::record),
        routes!(observations::history),
        routes!(observations::harvest),
        routes!(publications::make),
        routes!(publications::report),
        routes!(publications::publication),
    ]
}

fn surrounded(station: Arc<Station>, gate: Gate) -> Router {
    let (routes, _) = interface().split_for_parts();
    let compressed = DefaultPredicate::new()
        .and(NotForContentType::const_new("application/pdf"))
        .and(NotForContentType::const_new("application/zip"))
        .and(NotForContentType::const_new("application/vnd.openxmlformats"))
        .and(NotForContentType::const_new("font/"));
    // The layer that is named last meets the request first.
    routes
        .route("/api/openapi.json", axum::routing::get(openapi::answer))
        .method_not_allowed_fallback(not_allowed)
        .fallback(pages::page)
        .with_state(station)
        .layer(from_fn_with_state(gate, admit))
        .layer(CompressionLayer::new().compress_when(compressed))
        .layer(CatchPanicLayer::custom(panicked))
        .layer(from_fn(harden))
        .layer(TraceLayer::new_for_http())
}

async fn not_allowed(method: Method, uri: Uri) -> Fault {
    let what = format!("{} is there, but not for {method}", uri.path());
    Fault::new(FaultKind::NotAllowed, what, "", "see GET /api/openapi.json for what each address takes")
}

fn panicked(cause: Box<dyn Any + Send + 'static>) -> Response {
    let told = cause.downcast_ref::<String>().map(String::as_str);
    let told = told.or_else(|| cause.downcast_ref::<&str>().copied());
    Fault::internal(told.unwrap_or("a panic without words")).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two types of one name in different crates would silently become one in the document.
    #[test]
    fn no_two_types_are_described_under_one_name() {
        let mut known = std::collections::BTreeMap::new();
        let described = told_in_json().into_iter().chain([routes!(observations::intake)]);
        for (name, schema) in described.flat_map(|(schemas, _, _)| schemas) {
            let schema = serde_json::to_value(schema).expect("a schema is plain data");
            let first = known.entry(name.clone()).or_insert_with(|| schema.clone());
            assert_eq!(*first, schema, "two types are called {name}: name one of them by #[schema(as = ...)]");
        }
        assert!(known.len() > 50, "the types that operations name are described with them");
    }

    #[test]
    fn a_panic_is_answered_in_the_one_shape() {
        for cause in [Box::new("why") as Box<dyn Any + Send>, Box::new("why".to_owned()), Box::new(7_u8)] {
            assert_eq!(panicked(cause).status(), axum::http::StatusCode::INTERNAL_SERVER_ERROR);
        }
    }
}
