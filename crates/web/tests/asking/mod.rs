//! A station in a new folder, and requests to its router without a socket.

#![allow(dead_code, reason = "each test program uses a part")]

pub mod pea;

use std::sync::Arc;

use axum::Router;
use axum::body::{Body, Bytes, to_bytes};
use axum::http::{HeaderMap, Method, Request, Response, StatusCode, header};
use guardrow_station::Station;
use guardrow_web::{ErrorAnswer, Fault, FaultKind, router};
use tower::ServiceExt;

/// A server over a station in a folder that lasts as long as this value.
pub struct Server {
    pub folder: tempfile::TempDir,
    pub station: Arc<Station>,
    router: Router,
}

/// An answer that arrived whole.
pub struct Answered {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub body: Bytes,
}

/// A moment of the trial season, the same in every run.
pub fn clock() -> jiff::Timestamp {
    "2026-05-04T08:00:00Z".parse().expect("it is a timestamp")
}

pub fn server() -> Server {
    server_at(clock)
}

/// A server whose station tells the time by `clock`.
pub fn server_at(clock: guardrow_station::Clock) -> Server {
    let folder = tempfile::tempdir().expect("a folder can be made");
    let station = Station::create(&folder.path().join("station"), "Test Station", clock).expect("the folder is new");
    let station = Arc::new(station);
    Server { folder, router: router(station.clone()), station }
}

/// A request as the pages send it; a test changes what it is about.
pub fn request(method: Method, address: &str) -> axum::http::request::Builder {
    let builder = Request::builder().method(&method).uri(address).header(header::HOST, "localhost:4321");
    if method == Method::GET { builder } else { builder.header("x-guardrow", "1") }
}

impl Server {
    pub async fn send(&self, request: Request<Body>) -> Answered {
        answered(self.router.clone().oneshot(request).await.expect("the router never fails")).await
    }

    pub async fn get(&self, address: &str) -> Answered {
        self.send(request(Method::GET, address).body(Body::empty()).expect("a plain request")).await
    }

    pub async fn tell(&self, method: Method, address: &str, body: impl Into<Body>) -> Answered {
        let request = request(method, address).header(header::CONTENT_TYPE, "application/json");
        self.send(request.body(body.into()).expect("a plain request")).await
    }

    /// Tells and expects JSON back.
    pub async fn post(&self, address: &str, body: &serde_json::Value, status: StatusCode) -> serde_json::Value {
        self.tell(Method::POST, address, body.to_string()).await.json(status)
    }

    /// Asks and expects JSON back.
    pub async fn read(&self, address: &str) -> serde_json::Value {
        self.get(address).await.json(StatusCode::OK)
    }

    pub async fn upload(&self, address: &str, form: Vec<u8>) -> Answered {
        let request = request(Method::POST, address).header(header::CONTENT_TYPE, "multipart/form-data; boundary=cut");
        self.send(request.body(form.into()).expect("a plain request")).await
    }
}

async fn answered(response: Response<Body>) -> Answered {
    let (parts, body) = response.into_parts();
    let body = to_bytes(body, usize::MAX).await.expect("the body arrives");
    Answered { status: parts.status, headers: parts.headers, body }
}

impl Answered {
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or_default()
    }

    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// The JSON of an answer that is expected to have this status.
    pub fn json(&self, status: StatusCode) -> serde_json::Value {
        assert_eq!(self.status, status, "{}", self.text());
        assert_eq!(self.header("content-type"), "application/json");
        serde_json::from_slice(&self.body).expect("the body is JSON")
    }
}

/// The one check of every error: its shape, its status, its three parts.
#[track_caller]
pub fn check_error(answered: &Answered, kind: FaultKind, in_what: &str) -> Fault {
    let text = answered.text();
    assert_eq!(answered.status, kind.status(), "{text}");
    assert_eq!(answered.header("content-type"), "application/json", "{text}");
    let keys: serde_json::Value = serde_json::from_str(&text).expect("an error is JSON");
    let parts: Vec<&String> = keys["error"].as_object().expect("it has one member, `error`").keys().collect();
    assert_eq!(parts, ["kind", "what", "place", "try_this", "remarks"], "{text}");
    let ErrorAnswer { error } = serde_json::from_str(&text).expect("an error has the one shape");
    assert_eq!(error.kind, kind, "{text}");
    assert!(error.what.contains(in_what), "`{in_what}` is not in: {text}");
    assert!(!error.try_this.is_empty(), "{text}");
    check_hardened(answered);
    error
}

/// The headers that every answer carries.
#[track_caller]
pub fn check_hardened(answered: &Answered) {
    let policy = answered.header("content-security-policy");
    assert!(policy.starts_with("default-src 'none'") || policy.starts_with("frame-ancestors"), "{policy}");
    assert!(!policy.contains("http"), "no outside host: {policy}");
    assert!(!policy.contains("unsafe-eval") && !policy.contains("script-src 'self' 'unsafe-inline'"), "{policy}");
    assert_eq!(answered.header("x-content-type-options"), "nosniff");
    assert_eq!(answered.header("referrer-policy"), "no-referrer");
    assert_eq!(answered.header("cross-origin-resource-policy"), "same-origin");
    assert!(!answered.header("cache-control").is_empty());
}

/// A form with one file in one field.
pub fn form(field: &str, file_name: Option<&str>, content: &[u8]) -> Vec<u8> {
    let file_name = file_name.map(|name| format!("; filename=\"{name}\"")).unwrap_or_default();
    let mut form = format!("--cut\r\ncontent-disposition: form-data; name=\"{field}\"{file_name}\r\n\r\n").into_bytes();
    form.extend_from_slice(content);
    form.extend_from_slice(b"\r\n--cut--\r\n");
    form
}
