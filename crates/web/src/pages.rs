//! The browser program's files, embedded when the program was built.

use axum::body::Body;
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, Uri, header};
use axum::response::Response;
use rust_embed::{Embed, EmbeddedFile};

use crate::fault::{Fault, FaultKind};

#[derive(Embed)]
#[folder = "$OUT_DIR/ui"]
struct Files;

/// Where the build puts files whose name holds a hash of their content: these never change.
const HASHED: &str = "assets/";

/// Answers every address that is not the interface's: a file of the browser program, or its first page, which then shows
/// the trial or season that the address names.
pub async fn page(method: Method, uri: Uri, headers: HeaderMap) -> Result<Response, Fault> {
    let path = uri.path().trim_start_matches('/');
    let reading = matches!(method, Method::GET | Method::HEAD);
    if !reading || is_under(path, "api") || is_under(path, "publications") {
        return Err(not_there(&method, &uri));
    }
    if let Some(file) = Files::get(path) {
        return Ok(send(file, path, &headers));
    }
    let wants_page = path.is_empty() || accepts_html(&headers) && !path.starts_with(HASHED);
    match Files::get("index.html") {
        Some(first_page) if wants_page => Ok(send(first_page, "index.html", &headers)),
        _ => Err(not_there(&method, &uri)),
    }
}

fn is_under(path: &str, folder: &str) -> bool {
    path.strip_prefix(folder).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
}

fn accepts_html(headers: &HeaderMap) -> bool {
    let accepted = headers.get(header::ACCEPT).and_then(|value| value.to_str().ok()).unwrap_or_default();
    accepted.contains("text/html")
}

fn not_there(method: &Method, uri: &Uri) -> Fault {
    let what = format!("there is no {method} {}", uri.path());
    Fault::new(FaultKind::NotThere, what, "", "go to the first page, or see GET /api/openapi.json for what there is")
}

fn send(file: EmbeddedFile, path: &str, headers: &HeaderMap) -> Response {
    let tag = entity_tag(&file);
    let fresh = headers.get(header::IF_NONE_MATCH).is_some_and(|known| names_tag(known, &tag));
    let rule = if path.starts_with(HASHED) { "public, max-age=31536000, immutable" } else { "no-cache" };
    let content_type = file.metadata.mimetype().to_owned();
    let mut response = if fresh { Response::new(Body::empty()) } else { Response::new(Body::from(file.data)) };
    if fresh {
        *response.status_mut() = StatusCode::NOT_MODIFIED;
    }
    let answered = response.headers_mut();
    answered.insert(header::CACHE_CONTROL, HeaderValue::from_static(rule));
    for (name, value) in [(header::ETAG, tag), (header::CONTENT_TYPE, with_charset(content_type))] {
        if let Ok(value) = HeaderValue::try_from(value) {
            answered.insert(name, value);
        }
    }
    response
}

/// A weak tag, because the same content is sent plain and compressed.
fn entity_tag(file: &EmbeddedFile) -> String {
    let hash: String = file.metadata.sha256_hash()[..16].iter().map(|byte| format!("{byte:02x}")).collect();
    format!("W/\"{hash}\"")
}

fn names_tag(known: &HeaderValue, tag: &str) -> bool {
    known.to_str().is_ok_and(|known| known.split(',').any(|one| one.trim() == tag || one.trim() == "*"))
}

fn with_charset(content_type: String) -> String {
    if content_type.starts_with("text/") { format!("{content_type}; charset=utf-8") } else { content_type }
}
