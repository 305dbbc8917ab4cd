//! Who is let in, and what every refusal looks like.

mod asking;

use asking::{check_error, check_hardened, form, request, server};
use axum::body::Body;
use axum::http::{Method, Request, header};
use guardrow_web::{FaultKind, JSON_LIMIT_BYTES, UPLOAD_LIMIT_BYTES, router_on_port};
use tower::ServiceExt;

#[tokio::test]
async fn another_host_name_is_refused() {
    let server = server();
    for host in ["farm.example", "farm.example:4321", "127.0.0.1.farm.example:4321", "192.168.1.7:4321"] {
        for address in ["/", "/api/station", "/publications/report.pdf"] {
            let request = Request::builder().uri(address).header(header::HOST, host).body(Body::empty()).unwrap();
            check_error(&server.send(request).await, FaultKind::NotAdmitted, host);
        }
    }
}

#[tokio::test]
async fn no_host_or_two_hosts_are_refused() {
    let server = server();
    let none = Request::builder().uri("/api/station").body(Body::empty()).unwrap();
    check_error(&server.send(none).await, FaultKind::NotAdmitted, "does not answer");
    let two = request(Method::GET, "/api/station").header(header::HOST, "farm.example").body(Body::empty()).unwrap();
    check_error(&server.send(two).await, FaultKind::NotAdmitted, "does not answer");
    let whole = request(Method::GET, "http://farm.example/api/station").body(Body::empty()).unwrap();
    check_error(&server.send(whole).await, FaultKind::NotAdmitted, "does not answer");
}

#[tokio::test]
async fn a_bound_server_answers_to_its_own_port_only() {
    let server = server();
    for (host, status) in [("localhost:4321", 200), ("[::1]:4321", 200), ("localhost:4322", 403), ("localhost", 403)] {
        let request = Request::builder().uri("/api/station").header(header::HOST, host).body(Body::empty()).unwrap();
        let response = router_on_port(server.station.clone(), 4321).oneshot(request).await.unwrap();
        assert_eq!(response.status(), status, "{host}");
    }
}

#[tokio::test]
async fn writing_needs_the_header() {
    let server = server();
    for (method, address) in [
        (Method::POST, "/api/trials"),
        (Method::PUT, "/api/trials/A/plan"),
        (Method::POST, "/api/plan/check"),
        (Method::POST, "/api/trials/A/layout"),
        (Method::PUT, "/api/lots/L"),
        (Method::POST, "/api/trials/A/documents/map"),
        (Method::POST, "/api/trials/A/observations"),
        (Method::POST, "/api/trials/A/intake"),
        (Method::POST, "/api/trials/A/premise"),
        (Method::POST, "/api/trials/A/notes"),
    ] {
        let plain = Request::builder().method(method).uri(address).header(header::HOST, "localhost:4321");
        let plain = plain.header(header::CONTENT_TYPE, "application/json").body(Body::from("{}")).unwrap();
        let fault = check_error(&server.send(plain).await, FaultKind::NotAdmitted, "x-guardrow");
        assert_eq!(fault.place, "header x-guardrow", "{address}");
    }
}

#[tokio::test]
async fn a_page_of_another_site_cannot_write() {
    let server = server();
    for (name, value) in [
        ("origin", "http://farm.example"),
        ("origin", "null"),
        ("origin", "http://localhost.farm.example:4321"),
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
    ] {
        let foreign = request(Method::POST, "/api/plan/check").header(header::CONTENT_TYPE, "application/json");
        let foreign = foreign.header(name, value).body(Body::from("{}")).unwrap();
        check_error(&server.send(foreign).await, FaultKind::NotAdmitted, "another site");
    }
    let own = request(Method::POST, "/api/plan/check").header(header::CONTENT_TYPE, "application/json");
    let own = own.header("origin", "http://localhost:4321").header("sec-fetch-site", "same-origin");
    assert_eq!(server.send(own.body(Body::from("{}")).unwrap()).await.status, 200);
}

#[tokio::test]
async fn a_browser_that_asks_first_gets_no_permission() {
    let ask_first = request(Method::OPTIONS, "/api/trials")
        .header("origin", "http://farm.example")
        .header("access-control-request-method", "POST")
        .header("access-control-request-headers", "x-guardrow, content-type");
    let answered = server().send(ask_first.body(Body::empty()).unwrap()).await;
    check_error(&answered, FaultKind::NotAllowed, "OPTIONS");
    assert!(answered.headers.keys().all(|name| !name.as_str().starts_with("access-control")));
}

#[tokio::test]
async fn other_content_types_are_refused() {
    let server = server();
    for content_type in ["text/plain", "application/x-www-form-urlencoded", ""] {
        let request = request(Method::POST, "/api/trials").header(header::CONTENT_TYPE, content_type);
        let answered = server.send(request.body(Body::from("{}")).unwrap()).await;
        check_error(&answered, FaultKind::WrongContentType, "does not read");
    }
    let nothing = request(Method::POST, "/api/trials").body(Body::from("{}")).unwrap();
    check_error(&server.send(nothing).await, FaultKind::WrongContentType, "does not say");
    let file = server.upload("/api/trials", form("file", Some("a.csv"), b"plot")).await;
    check_error(&file, FaultKind::WrongContentType, "multipart/form-data");
    let json = server.tell(Method::POST, "/api/trials/A/intake", "{}").await;
    check_error(&json, FaultKind::WrongContentType, "application/json");
}

#[tokio::test]
async fn too_many_bytes_are_refused() {
    let server = server();
    let long = format!("\"{}\"", "a".repeat(JSON_LIMIT_BYTES));
    let answered = server.tell(Method::POST, "/api/plan/check", long).await;
    check_error(&answered, FaultKind::TooLarge, "4 MB");
    let answered =
        server.upload("/api/trials/A/intake", form("file", Some("a.csv"), &vec![b'1'; UPLOAD_LIMIT_BYTES])).await;
    check_error(&answered, FaultKind::TooLarge, "64 MB");
}

#[tokio::test]
async fn uploads_that_are_no_upload_are_told_why() {
    let server = server();
    for (body, in_what) in [
        (form("sheet", Some("a.csv"), b"1"), "field “sheet”"),
        (form("file", None, b"1"), "has no name"),
        (b"--cut--\r\n".to_vec(), "holds no file"),
        (
            b"--cut\r\ncontent-disposition: form-data; name=\"file\"; filename=\"a\"\r\n\r\n1".to_vec(),
            "did not arrive whole",
        ),
    ] {
        check_error(&server.upload("/api/trials/A/intake", body).await, FaultKind::NotUnderstood, in_what);
    }
    let mut two = form("file", Some("a.csv"), b"1");
    two.truncate(two.len() - b"--cut--\r\n".len());
    two.extend_from_slice(&form("file", Some("b.csv"), b"2"));
    check_error(&server.upload("/api/trials/A/intake", two).await, FaultKind::NotUnderstood, "more than one file");
    let no_name = server.upload("/api/trials/A/intake?accept=true", form("file", Some("a.csv"), b"1")).await;
    check_error(&no_name, FaultKind::NotUnderstood, "who accepts it");
}

#[tokio::test]
async fn what_is_not_there_is_told_in_the_one_shape() {
    let server = server();
    for address in ["/api", "/api/", "/api/weather", "/api/trials/A/yield", "/publications", "/publications/"] {
        check_error(&server.get(address).await, FaultKind::NotThere, address);
    }
    check_error(&server.tell(Method::POST, "/trials", "{}").await, FaultKind::NotThere, "POST /trials");
    check_error(&server.tell(Method::DELETE, "/api/trials/A", "{}").await, FaultKind::NotAllowed, "DELETE");
    check_error(&server.get("/api/plan/check").await, FaultKind::NotAllowed, "not for GET");
    let poster = server.tell(Method::POST, "/api/trials/A/documents/poster", r#"{"by": "R. Example"}"#).await;
    check_error(&poster, FaultKind::NotThere, "field-sheet");
}

#[tokio::test]
async fn a_body_or_query_that_is_not_understood_names_its_place() {
    let server = server();
    let answered = server.tell(Method::POST, "/api/plan/check", "{").await;
    check_error(&answered, FaultKind::NotUnderstood, "is not JSON");
    let answered = server.tell(Method::POST, "/api/plan/check", r#"{"trial": {"season": "next"}}"#).await;
    let fault = check_error(&answered, FaultKind::NotUnderstood, "invalid type");
    assert!(fault.place.starts_with("trial.season "), "{fault:?}");
    let answered = server.tell(Method::POST, "/api/trials", r#"{"plan": {}}"#).await;
    check_error(&answered, FaultKind::NotUnderstood, "missing field `by`");
    for (query, in_what) in [("version=two", "version"), ("versoin=2", "versoin")] {
        let answered = server.get(&format!("/api/trials/A/layout?{query}")).await;
        let fault = check_error(&answered, FaultKind::NotUnderstood, in_what);
        assert_eq!(fault.place, format!("?{query}"));
    }
    check_error(&server.get("/api/trials/A/history?plot=101").await, FaultKind::NotUnderstood, "measure");
    check_error(&server.get("/api/trials/%FF").await, FaultKind::NotUnderstood, "address");
}

#[tokio::test]
async fn a_misspelt_wish_for_a_blind_table_or_map_is_refused_rather_than_shown_open() {
    let server = server();
    for address in ["/api/trials/A/map.svg?blid=true", "/api/trials/A/observations?blnd=true"] {
        check_error(&server.get(address).await, FaultKind::NotUnderstood, "unknown field");
    }
}

#[tokio::test]
async fn publications_outside_their_folder_are_not_there() {
    let server = server();
    std::fs::write(server.folder.path().join("secret.txt"), "secret").unwrap();
    for file in [
        "..%2Fstation.db",
        "..%2f..%2fsecret.txt",
        "..%5C..%5Csecret.txt",
        "%2Fetc%2Fhosts",
        "C:%5Cwindows",
        "..",
        ".",
        "%2e%2e",
        "a%00.pdf",
        ".journal",
        "nothing.pdf",
    ] {
        let answered = server.get(&format!("/publications/{file}")).await;
        check_error(&answered, FaultKind::NotThere, "there is no");
    }
    check_error(&server.get("/publications/../secret.txt").await, FaultKind::NotThere, "there is no");
}

#[tokio::test]
async fn good_answers_are_hardened_too() {
    let server = server();
    for address in ["/", "/api/station", "/api/openapi.json"] {
        let answered = server.get(address).await;
        assert_eq!(answered.status, 200);
        check_hardened(&answered);
    }
    assert_eq!(server.get("/api/station").await.header("cache-control"), "no-store");
}
