//! How a request is read: path, query, JSON and uploaded file, each with the one error shape.

use axum::body::Bytes;
use axum::extract::multipart::MultipartError;
use axum::extract::rejection::BytesRejection;
use axum::extract::{FromRequest, FromRequestParts, Multipart, Path, Query, Request};
use axum::http::request::Parts;
use axum::http::{HeaderMap, StatusCode, header};
use guardrow_station::IncomingFile;
use serde::de::DeserializeOwned;
use std::error::Error as _;

use crate::fault::{Fault, FaultKind};
use crate::router::{JSON_LIMIT_BYTES, UPLOAD_LIMIT_BYTES};

const SEE: &str = "see GET /api/openapi.json for what each request holds";

/// The variable parts of the address.
pub struct Named<T>(pub T);

impl<S: Send + Sync, T: DeserializeOwned + Send> FromRequestParts<S> for Named<T> {
    type Rejection = Fault;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Named<T>, Fault> {
        let Path(value) = Path::<T>::from_request_parts(parts, state).await.map_err(|rejection| {
            let what = format!("the address was not understood: {}", rejection.body_text());
            Fault::new(FaultKind::NotUnderstood, what, parts.uri.path(), SEE)
        })?;
        Ok(Named(value))
    }
}

/// What stands behind the question mark of the address.
pub struct Asked<T>(pub T);

impl<S: Send + Sync, T: DeserializeOwned> FromRequestParts<S> for Asked<T> {
    type Rejection = Fault;

    async fn from_request_parts(parts: &mut Parts, _state: &S) -> Result<Asked<T>, Fault> {
        let Query(value) = Query::<T>::try_from_uri(&parts.uri).map_err(|rejection| {
            let cause = rejection.source().map_or_else(|| rejection.body_text(), ToString::to_string);
            let what = format!("the query of the address was not understood: {cause}");
            Fault::new(FaultKind::NotUnderstood, what, format!("?{}", parts.uri.query().unwrap_or_default()), SEE)
        })?;
        Ok(Asked(value))
    }
}

/// A JSON body.
pub struct Told<T>(pub T);

impl<S: Send + Sync, T: DeserializeOwned> FromRequest<S> for Told<T> {
    type Rejection = Fault;

    async fn from_request(request: Request, state: &S) -> Result<Told<T>, Fault> {
        if !has_content_type(request.headers(), "application/json") {
            return Err(wrong_content_type(request.headers(), "application/json"));
        }
        let bytes = Bytes::from_request(request, state).await.map_err(|rejection| body_fault(&rejection))?;
        read_json(&bytes).map(Told)
    }
}

/// Reads JSON and names the field that was not understood.
fn read_json<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Fault> {
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let value = serde_path_to_error::deserialize(&mut reader).map_err(|error| {
        let path = error.path().to_string();
        json_fault(error.inner(), if path == "." { "" } else { &path })
    })?;
    reader.end().map_err(|error| json_fault(&error, ""))?;
    Ok(value)
}

fn json_fault(error: &serde_json::Error, field: &str) -> Fault {
    let spot = format!("line {}, column {}", error.line(), error.column());
    let place = if field.is_empty() { spot } else { format!("{field} ({spot})") };
    let message = error.to_string();
    let message = message.split(" at line ").next().unwrap_or_default();
    if error.is_data() {
        return Fault::new(FaultKind::NotUnderstood, format!("the request was not understood: {message}"), place, SEE);
    }
    let what = format!("the body of the request is not JSON: {message}");
    Fault::new(FaultKind::NotUnderstood, what, place, "send one JSON value, encoded in UTF-8")
}

fn body_fault(rejection: &BytesRejection) -> Fault {
    if rejection.status() == StatusCode::PAYLOAD_TOO_LARGE {
        return too_large(JSON_LIMIT_BYTES, "send it in parts, or as a file");
    }
    let what = format!("the body of the request did not arrive whole: {}", rejection.body_text());
    Fault::new(FaultKind::NotUnderstood, what, "", "send it again")
}

fn too_large(limit: usize, try_this: &str) -> Fault {
    let what = format!("the request is larger than {} MB, the most that is taken here", limit / (1024 * 1024));
    Fault::new(FaultKind::TooLarge, what, "", try_this)
}

/// True when the body is declared to be of this media type, whatever its parameters.
pub fn has_content_type(headers: &HeaderMap, wanted: &str) -> bool {
    let given = headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    given.split(';').next().unwrap_or_default().trim().eq_ignore_ascii_case(wanted)
}

/// The error for another media type than the wanted one.
pub fn wrong_content_type(headers: &HeaderMap, wanted: &str) -> Fault {
    let given = headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok());
    let what = match given {
        Some(given) => format!("this address does not read “{given}”"),
        None => "the request does not say what its body is".to_owned(),
    };
    let try_this = format!("send it with the header content-type: {wanted}");
    Fault::new(FaultKind::WrongContentType, what, "header content-type", try_this)
}

/// A file that was uploaded in the field `file`.
pub struct Uploaded(pub IncomingFile);

impl<S: Send + Sync> FromRequest<S> for Uploaded {
    type Rejection = Fault;

    async fn from_request(request: Request, state: &S) -> Result<Uploaded, Fault> {
        if !has_content_type(request.headers(), "multipart/form-data") {
            return Err(wrong_content_type(request.headers(), "multipart/form-data"));
        }
        let form = Multipart::from_request(request, state).await.map_err(|rejection| {
            let what = format!("the upload was not understood: {}", rejection.body_text());
            Fault::new(FaultKind::NotUnderstood, what, "header content-type", "send the file in the form field “file”")
        })?;
        read_upload(form).await.map(Uploaded)
    }
}

async fn read_upload(mut form: Multipart) -> Result<IncomingFile, Fault> {
    let mut found = None;
    while let Some(field) = form.next_field().await.map_err(|error| upload_fault(&error))? {
        let name = field.name().unwrap_or_default().to_owned();
        if name != "file" {
            return Err(upload_refused(format!("the upload has a field “{name}”, which means nothing here")));
        }
        if found.is_some() {
            return Err(upload_refused("the upload holds more than one file".to_owned()));
        }
        let file_name = last_part(field.file_name().unwrap_or_default()).to_owned();
        if file_name.is_empty() {
            return Err(upload_refused("the uploaded file has no name, and its name is kept in the record".to_owned()));
        }
        let bytes = field.bytes().await.map_err(|error| upload_fault(&error))?;
        found = Some(IncomingFile { name: file_name, bytes: bytes.to_vec() });
    }
    found.ok_or_else(|| upload_refused("the upload holds no file".to_owned()))
}

/// The file's own name: some browsers send the folders before it.
fn last_part(name: &str) -> &str {
    name.rsplit(['/', '\\']).next().unwrap_or_default()
}

fn upload_refused(what: String) -> Fault {
    Fault::new(FaultKind::NotUnderstood, what, "form field file", "send one named file in the form field “file”")
}

fn upload_fault(error: &MultipartError) -> Fault {
    if error.status() == StatusCode::PAYLOAD_TOO_LARGE {
        return too_large(UPLOAD_LIMIT_BYTES, "save the file with the needed sheet only, or split it");
    }
    let what = format!("the upload did not arrive whole: {}", error.body_text());
    Fault::new(FaultKind::NotUnderstood, what, "form field file", "send the file again")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Outer {
        #[allow(dead_code)]
        plots: Vec<Inner>,
    }

    #[derive(Debug, serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Inner {
        #[allow(dead_code)]
        number: u32,
    }

    fn check(body: &str, place: &str, in_what: &str) {
        let fault = read_json::<Outer>(body.as_bytes()).expect_err("the body is wrong");
        assert_eq!(fault.kind, FaultKind::NotUnderstood);
        assert_eq!(fault.place, place, "{fault:?}");
        assert!(fault.what.contains(in_what), "{fault:?}");
    }

    #[test]
    fn a_wrong_body_is_told_with_its_field() {
        check(
            r#"{"plots": [{"number": 1}, {"number": "two"}]}"#,
            "plots[1].number (line 1, column 42)",
            "invalid type",
        );
        check(r#"{"plots": [{"nummer": 1}]}"#, "plots[0].nummer (line 1, column 20)", "unknown field `nummer`");
        check(r#"{}"#, "line 1, column 2", "missing field `plots`");
        check(r#"{"plots": [}"#, "plots[0] (line 1, column 12)", "is not JSON");
        check("", "line 1, column 0", "is not JSON");
        check(r#"{"plots": []} {}"#, "line 1, column 15", "is not JSON");
    }

    #[test]
    fn only_the_last_part_of_a_file_name_is_kept() {
        assert_eq!(last_part("C:\\field\\stand.xlsx"), "stand.xlsx");
        assert_eq!(last_part("../../stand.csv"), "stand.csv");
        assert_eq!(last_part("stand.csv"), "stand.csv");
    }
}
