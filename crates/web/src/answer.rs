//! How a use case becomes an answer.

use std::sync::Arc;

use axum::body::Body;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use guardrow_station::{Station, StationError};
use serde::Serialize;

use crate::fault::Fault;

/// Calls one use case on a thread that may wait for the disk.
///
/// # Errors
/// The station's error; a panic of the use case is an internal fault and stops nothing else.
pub async fn ask<T, F>(station: Arc<Station>, use_case: F) -> Result<T, Fault>
where
    T: Send + 'static,
    F: FnOnce(&Station) -> Result<T, StationError> + Send + 'static,
{
    apart(move || use_case(&station).map_err(Fault::from)).await
}

/// Does work that waits or computes on a thread where it holds up no other request.
///
/// # Errors
/// The work's own; a panic is an internal fault.
pub async fn apart<T, F>(work: F) -> Result<T, Fault>
where
    T: Send + 'static,
    F: FnOnce() -> Result<T, Fault> + Send + 'static,
{
    tokio::task::spawn_blocking(work).await.unwrap_or_else(|stopped| Err(Fault::internal(&stopped.to_string())))
}

/// A JSON answer; unlike the framework's own, one that cannot be written is an error of the one shape.
pub struct Answer<T>(pub T);

impl<T: Serialize> IntoResponse for Answer<T> {
    fn into_response(self) -> Response {
        match serde_json::to_vec(&self.0) {
            Ok(bytes) => ([(header::CONTENT_TYPE, "application/json")], bytes).into_response(),
            Err(error) => Fault::internal(&error.to_string()).into_response(),
        }
    }
}

/// A new thing was made: status 201.
pub struct Made<T>(pub T);

impl<T: Serialize> IntoResponse for Made<T> {
    fn into_response(self) -> Response {
        let mut response = Answer(self.0).into_response();
        if response.status() == StatusCode::OK {
            *response.status_mut() = StatusCode::CREATED;
        }
        response
    }
}

/// A document with its type and the name that it is saved under.
pub struct Document {
    /// Media type.
    pub content_type: &'static str,
    /// Shown in the browser; otherwise saved.
    pub inline: bool,
    /// Name to save under.
    pub name: String,
    /// The bytes.
    pub bytes: Vec<u8>,
}

impl IntoResponse for Document {
    fn into_response(self) -> Response {
        let mut response = Response::new(Body::from(self.bytes));
        let headers = response.headers_mut();
        headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(self.content_type));
        if let Ok(value) = HeaderValue::from_str(&disposition(self.inline, &self.name)) {
            headers.insert(header::CONTENT_DISPOSITION, value);
        }
        response
    }
}

/// The `content-disposition` of a name: a plain-letters form for old readers and the exact one (RFC 6266, RFC 8187).
fn disposition(inline: bool, name: &str) -> String {
    let how = if inline { "inline" } else { "attachment" };
    let plain: String = name.chars().map(|letter| if plain_letter(letter) { letter } else { '_' }).collect();
    let mut exact = String::new();
    for byte in name.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._".contains(&byte) {
            exact.push(char::from(byte));
        } else {
            exact.push_str(&format!("%{byte:02X}"));
        }
    }
    format!("{how}; filename=\"{plain}\"; filename*=UTF-8''{exact}")
}

fn plain_letter(letter: char) -> bool {
    letter.is_ascii_alphanumeric() || "-._ ".contains(letter)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_with_quotes_and_other_letters_stays_one_header_value() {
        assert_eq!(
            disposition(false, "läge \"1\".pdf"),
            "attachment; filename=\"l_ge _1_.pdf\"; filename*=UTF-8''l%C3%A4ge%20%221%22.pdf"
        );
        assert_eq!(disposition(true, "map.svg"), "inline; filename=\"map.svg\"; filename*=UTF-8''map.svg");
    }
}
