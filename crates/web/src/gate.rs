//! Who is let in: only this machine's own pages, and only with requests that another site's page cannot send.
//!
//! A page of another site can make a browser send requests to this server in three ways, and each is met here:
//! by a host name of its own that it points at 127.0.0.1 (the host is checked), by a form or a plain `fetch` (writing
//! needs a header and a content type that those cannot carry without asking first), and by embedding (answers forbid it).

use axum::extract::{Request, State};
use axum::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use axum::http::uri::Authority;
use axum::http::{Method, Uri};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::fault::{Fault, FaultKind};
use crate::reading::{has_content_type, wrong_content_type};

/// The header that every writing request carries, with the value `1`.
pub const WRITING_HEADER: &str = "x-guardrow";

/// What the server is called by those who may call it.
#[derive(Debug, Clone, Copy)]
pub struct Gate {
    /// The port that it listens on; any when it is not bound to one.
    pub port: Option<u16>,
}

/// Lets a request through or says why not.
pub async fn admit(State(gate): State<Gate>, request: Request, next: Next) -> Response {
    match gate.check(request.method(), request.uri(), request.headers()) {
        Ok(()) => next.run(request).await,
        Err(fault) => fault.into_response(),
    }
}

impl Gate {
    fn check(self, method: &Method, uri: &Uri, headers: &HeaderMap) -> Result<(), Fault> {
        self.check_host(uri, headers)?;
        if matches!(*method, Method::GET | Method::HEAD | Method::OPTIONS) {
            return Ok(());
        }
        check_writing(headers)
    }

    fn check_host(self, uri: &Uri, headers: &HeaderMap) -> Result<(), Fault> {
        let host = headers.get(header::HOST).and_then(|value| value.to_str().ok()).unwrap_or_default();
        let named_in_uri = uri.authority().is_none_or(|authority| self.is_this_machine(authority.as_str()));
        let one_host = headers.get_all(header::HOST).iter().count() == 1;
        if one_host && named_in_uri && self.is_this_machine(host) {
            return Ok(());
        }
        let port = self.port.map(|port| format!(":{port}")).unwrap_or_default();
        Err(Fault::new(
            FaultKind::NotAdmitted,
            format!("the station does not answer to the name “{host}”"),
            "header host",
            format!("open http://localhost{port} on the machine that the station runs on"),
        ))
    }

    fn is_this_machine(self, host: &str) -> bool {
        let Ok(authority) = host.parse::<Authority>() else { return false };
        let name = authority.host().to_ascii_lowercase();
        let known = !host.contains('@') && matches!(name.as_str(), "localhost" | "127.0.0.1" | "[::1]");
        known && self.port.is_none_or(|port| authority.port_u16().unwrap_or(80) == port)
    }
}

fn check_writing(headers: &HeaderMap) -> Result<(), Fault> {
    if headers.get(WRITING_HEADER).is_none_or(|value| value != "1") {
        let what = "a request that writes must carry the header x-guardrow: 1";
        let try_this = "use the station's own pages, or add the header if this is a program of yours";
        return Err(Fault::new(FaultKind::NotAdmitted, what, "header x-guardrow", try_this));
    }
    if !from_own_page(headers) {
        let what = "a page of another site tried to write to the station";
        let try_this = "use the station's own pages";
        return Err(Fault::new(FaultKind::NotAdmitted, what, "header origin", try_this));
    }
    if !has_content_type(headers, "application/json") && !has_content_type(headers, "multipart/form-data") {
        return Err(wrong_content_type(headers, "application/json"));
    }
    Ok(())
}

/// True unless the browser says that a page of another site sends it. A program that is no browser says nothing.
fn from_own_page(headers: &HeaderMap) -> bool {
    let origin_is_here = headers.get(header::ORIGIN).is_none_or(|origin| {
        let host = origin.to_str().ok().and_then(|origin| origin.strip_prefix("http://"));
        host.is_some_and(|host| Gate { port: None }.is_this_machine(host))
    });
    let site = headers.get("sec-fetch-site").map(HeaderValue::as_bytes);
    origin_is_here && matches!(site, None | Some(b"same-origin" | b"none"))
}

/// What a page may load: its own files, and nothing from any other host; no script or style element in the page itself.
/// Style attributes are let through because charts carry them; they can load nothing.
const PAGE_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; \
    img-src 'self' data: blob:; font-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; \
    frame-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// A drawing opened on its own: no script, nothing loaded.
const DRAWING_POLICY: &str =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; sandbox; frame-ancestors 'self'";

/// A PDF: the browser's own viewer needs its parts, so only the framing is restricted.
const PDF_POLICY: &str = "frame-ancestors 'self'";

/// Puts the headers on every answer that tell a browser to trust nothing else.
pub async fn harden(request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    let content_type = response.headers().get(header::CONTENT_TYPE).map(HeaderValue::as_bytes).unwrap_or_default();
    let policy = match content_type {
        b"image/svg+xml" => DRAWING_POLICY,
        b"application/pdf" => PDF_POLICY,
        _ => PAGE_POLICY,
    };
    let framing = if policy == PAGE_POLICY { "DENY" } else { "SAMEORIGIN" };
    let fixed: [(HeaderName, &'static str); 7] = [
        (header::CONTENT_SECURITY_POLICY, policy),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::X_FRAME_OPTIONS, framing),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (HeaderName::from_static("permissions-policy"), "geolocation=(), microphone=(), payment=(), usb=()"),
    ];
    let headers = response.headers_mut();
    for (name, value) in fixed {
        headers.insert(name, HeaderValue::from_static(value));
    }
    // What the station holds is never left in a browser's cache; files of the program set their own rule.
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(host: &str, port: Option<u16>, admitted: bool) {
        assert_eq!(Gate { port }.is_this_machine(host), admitted, "{host} at {port:?}");
    }

    #[test]
    fn only_names_of_this_machine_are_answered_to() {
        for host in ["localhost:4000", "127.0.0.1:4000", "[::1]:4000", "LocalHost:4000"] {
            check(host, Some(4000), true);
            check(host, None, true);
            check(host, Some(4001), false);
        }
        check("localhost", Some(80), true);
        for host in [
            "",
            "localhost",
            "farm.example:4000",
            "localhost.farm.example:4000",
            "127.0.0.1.farm.example:4000",
            "127.0.0.2:4000",
            "0.0.0.0:4000",
            "localhost:4000@farm.example:4000",
            "user@localhost:4000",
            "localhost:4000, farm.example:4000",
            "localhost:99999",
        ] {
            check(host, Some(4000), false);
        }
    }
}
