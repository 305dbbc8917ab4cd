//! The description of the interface.

mod asking;

use std::path::Path;

/// Set to write the file anew instead of comparing it.
const REFRESH: &str = "GUARDROW_REFRESH_OPENAPI";

#[test]
fn the_committed_description_is_the_current_one() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("openapi.json");
    let current = guardrow_web::document().to_pretty_json().expect("the document is plain data") + "\n";
    if std::env::var_os(REFRESH).is_some() {
        std::fs::write(&path, &current).expect("the file can be written");
    }
    let committed = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        committed == current,
        "crates/web/openapi.json is stale: run `{REFRESH}=1 cargo test -p guardrow-web --test description`, then \
         `npm run api` in ui/, look at what changed, and commit both"
    );
}

#[tokio::test]
async fn the_server_tells_the_same_description() {
    let told = asking::server().get("/api/openapi.json").await.json(axum::http::StatusCode::OK);
    let made = serde_json::to_value(guardrow_web::document()).expect("the document is plain data");
    assert_eq!(told, made);
}

/// Every `$ref` leads to a schema: a type that was named and never described would break a typed client.
#[test]
fn every_type_that_is_named_is_described() {
    let document = serde_json::to_value(guardrow_web::document()).expect("the document is plain data");
    let mut named = Vec::new();
    collect_references(&document, &mut named);
    assert!(named.len() > 20, "the interface names its types: {named:?}");
    for reference in named {
        let pointer = reference.trim_start_matches('#');
        assert!(document.pointer(pointer).is_some(), "{reference} is named and not described");
    }
}

fn collect_references<'a>(value: &'a serde_json::Value, named: &mut Vec<&'a str>) {
    match value {
        serde_json::Value::Object(members) => {
            named.extend(members.get("$ref").and_then(|reference| reference.as_str()));
            members.values().for_each(|member| collect_references(member, named));
        }
        serde_json::Value::Array(items) => items.iter().for_each(|item| collect_references(item, named)),
        _ => {}
    }
}

#[test]
fn every_operation_tells_its_errors_and_every_writing_one_its_header() {
    let document = serde_json::to_value(guardrow_web::document()).expect("the document is plain data");
    let paths = document["paths"].as_object().expect("there are paths");
    for (path, item) in paths {
        for (method, operation) in item.as_object().expect("a path has operations") {
            let error = &operation["responses"]["default"]["content"]["application/json"]["schema"]["$ref"];
            assert_eq!(error, "#/components/schemas/ErrorAnswer", "{method} {path}");
            let parameters = operation["parameters"].as_array().cloned().unwrap_or_default();
            let has_header = parameters.iter().any(|one| one["name"] == "x-guardrow" && one["required"] == true);
            assert_eq!(has_header, method != "get", "{method} {path}");
            assert!(operation["summary"].is_string(), "{method} {path} says what it does");
        }
    }
}

/// What is said to stand in the address stands there, and all that stands there is said: the rest is asked behind `?`.
#[test]
fn every_parameter_of_the_path_stands_in_the_address() {
    let document = serde_json::to_value(guardrow_web::document()).expect("the document is plain data");
    for (path, item) in document["paths"].as_object().expect("there are paths") {
        let in_address: Vec<&str> =
            path.split('/').filter_map(|part| part.strip_prefix('{')?.strip_suffix('}')).collect();
        for (method, operation) in item.as_object().expect("a path has operations") {
            let parameters = operation["parameters"].as_array().cloned().unwrap_or_default();
            let told: Vec<&str> =
                parameters.iter().filter(|one| one["in"] == "path").filter_map(|one| one["name"].as_str()).collect();
            assert_eq!(told, in_address, "{method} {path}");
        }
    }
}
