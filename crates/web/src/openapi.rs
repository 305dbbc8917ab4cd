//! The description of the interface, made from the handlers and types themselves.

use std::sync::LazyLock;

use axum::http::header;
use axum::response::IntoResponse;
use guardrow_station::DocumentKind;
use utoipa::OpenApi;
use utoipa::openapi::path::{Operation, ParameterBuilder, ParameterIn};
use utoipa::openapi::{ContentBuilder, Ref, RefOr, Required, ResponseBuilder};

use crate::fault::ErrorAnswer;
use crate::gate::WRITING_HEADER;

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Guardrow",
        description = "What the pages of a station ask of it. For this machine only; docs/interface.md tells it in words."
    ),
    components(schemas(ErrorAnswer, DocumentKind))
)]
struct Described;

/// The OpenAPI document of the interface.
pub fn document() -> utoipa::openapi::OpenApi {
    let (_, routes) = crate::router::interface().split_for_parts();
    let mut document = Described::openapi();
    document.merge(routes);
    // The router's star, for a path of several parts, is not a sign of OpenAPI.
    let paths = std::mem::take(&mut document.paths.paths);
    document.paths.paths = paths.into_iter().map(|(path, item)| (path.replace("{*", "{"), item)).collect();
    for item in document.paths.paths.values_mut() {
        for operation in [&mut item.get, &mut item.post, &mut item.put].into_iter().flatten() {
            add_error_answer(operation);
        }
        for operation in [&mut item.post, &mut item.put].into_iter().flatten() {
            add_writing_header(operation);
        }
    }
    document
}

fn add_error_answer(operation: &mut Operation) {
    let shape = RefOr::Ref(Ref::from_schema_name("ErrorAnswer"));
    let answer = ResponseBuilder::new()
        .description("Every error, whatever its status.")
        .content("application/json", ContentBuilder::new().schema(Some(shape)).build())
        .build();
    operation.responses.responses.insert("default".to_owned(), RefOr::T(answer));
}

fn add_writing_header(operation: &mut Operation) {
    let text = utoipa::openapi::ObjectBuilder::new()
        .schema_type(utoipa::openapi::schema::Type::String)
        .enum_values(Some(["1"]))
        .build();
    let parameter = ParameterBuilder::new()
        .name(WRITING_HEADER)
        .parameter_in(ParameterIn::Header)
        .required(Required::True)
        .description(Some("Every writing request carries it; a page of another site cannot."))
        .schema(Some(text))
        .build();
    operation.parameters.get_or_insert_default().push(parameter.into());
}

/// `GET /api/openapi.json`.
pub async fn answer() -> impl IntoResponse {
    // A document of static types always serialises.
    static TEXT: LazyLock<String> = LazyLock::new(|| document().to_json().expect("the document is plain data"));
    ([(header::CONTENT_TYPE, "application/json")], TEXT.as_str())
}
