//! The browser program's files.

mod asking;

use asking::{Answered, Server, check_error, check_hardened, request, server};
use axum::body::Body;
use axum::http::{Method, header};
use guardrow_web::FaultKind;

async fn visit(server: &Server, address: &str) -> Answered {
    let request = request(Method::GET, address).header(header::ACCEPT, "text/html,application/xhtml+xml,*/*;q=0.8");
    server.send(request.body(Body::empty()).unwrap()).await
}

/// The first hashed file that the first page names.
fn hashed_file(page: &str) -> &str {
    let start = page.find("/assets/").expect("the first page loads the program");
    page[start..].split('"').next().expect("the address is quoted")
}

#[tokio::test]
async fn every_page_of_the_program_is_its_first_page() {
    let server = server();
    let first = visit(&server, "/").await;
    assert_eq!(first.status, 200);
    assert_eq!(first.header("content-type"), "text/html; charset=utf-8");
    assert_eq!(first.header("cache-control"), "no-cache");
    check_hardened(&first);
    for address in ["/trials/LEN-26", "/trials/LEN.26/plan", "/lots", "/trials/L%C3%A4ge", "/apiary"] {
        let answered = visit(&server, address).await;
        assert_eq!((answered.status, &answered.body), (first.status, &first.body), "{address}");
    }
}

#[tokio::test]
async fn a_missing_file_is_an_error_and_no_page() {
    let server = server();
    check_error(&server.get("/portrait.png").await, FaultKind::NotThere, "/portrait.png");
    check_error(&visit(&server, "/assets/old-00000000.js").await, FaultKind::NotThere, "/assets/old-00000000.js");
    check_error(&visit(&server, "/api/nothing").await, FaultKind::NotThere, "/api/nothing");
}

#[tokio::test]
async fn hashed_files_are_kept_by_the_browser_and_others_are_asked_about() {
    let server = server();
    let first = visit(&server, "/").await;
    let page = first.text();
    let answered = server.get(hashed_file(&page)).await;
    assert_eq!(answered.status, 200);
    assert_eq!(answered.header("cache-control"), "public, max-age=31536000, immutable");
    assert!(answered.header("content-type").starts_with("text/"), "{}", answered.header("content-type"));
    for tag in [first.header("etag"), "W/\"other\", *"] {
        let again = request(Method::GET, "/").header(header::ACCEPT, "text/html").header(header::IF_NONE_MATCH, tag);
        let again = server.send(again.body(Body::empty()).unwrap()).await;
        assert_eq!((again.status.as_u16(), again.body.len()), (304, 0), "{tag}");
        assert_eq!(again.header("etag"), first.header("etag"));
    }
    let changed = request(Method::GET, "/").header(header::IF_NONE_MATCH, "W/\"other\"").body(Body::empty()).unwrap();
    assert_eq!(server.send(changed).await.status, 200);
}

#[tokio::test]
async fn the_first_page_holds_no_script_of_its_own_and_no_outside_address() {
    let page = visit(&server(), "/").await.text();
    for piece in page.split("<script").skip(1) {
        let (opening, rest) = piece.split_once('>').expect("the element is closed");
        assert!(opening.contains("src=\"/"), "the policy forbids a script in the page: <script{opening}>");
        assert!(rest.trim_start().starts_with("</script>"), "<script{opening}>{rest}");
    }
    assert!(!page.contains("http://") && !page.contains("https://") && !page.contains("\"//"), "{page}");
    assert!(!page.contains("<style"), "the policy forbids a style element in the page");
}

#[tokio::test]
async fn head_tells_of_a_page_without_sending_it() {
    let answered = server().send(request(Method::HEAD, "/").body(Body::empty()).unwrap()).await;
    assert_eq!(answered.status, 200);
    assert_eq!(answered.header("content-type"), "text/html; charset=utf-8");
}

#[tokio::test]
async fn answers_travel_compressed() {
    let server = server();
    for encoding in ["gzip", "br"] {
        let asked = request(Method::GET, "/api/openapi.json").header(header::ACCEPT_ENCODING, encoding);
        let answered = server.send(asked.body(Body::empty()).unwrap()).await;
        assert_eq!(answered.header("content-encoding"), encoding);
        let plain = server.get("/api/openapi.json").await;
        assert!(answered.body.len() * 3 < plain.body.len(), "{} of {}", answered.body.len(), plain.body.len());
    }
}
