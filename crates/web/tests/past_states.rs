//! A table of observations as it was known at an earlier time, through the interface.

mod asking;

use std::sync::atomic::{AtomicU8, Ordering};

use asking::pea::{BY, plan};
use asking::{Server, check_error, server_at};
use axum::http::StatusCode;
use guardrow_web::FaultKind;
use serde_json::{Value, json};

const TABLE: &str = "/api/trials/26-03/observations?event=stand%20count";

/// The hour that the station's clock shows.
static HOUR: AtomicU8 = AtomicU8::new(0);

fn clock() -> jiff::Timestamp {
    format!("2026-05-25T{:02}:00:00Z", HOUR.load(Ordering::SeqCst)).parse().expect("a moment")
}

async fn record(server: &Server, text: &str, replaces: Option<&str>) -> Value {
    let reason = if replaces.is_some() { "counted again" } else { "" };
    let value = json!({"plot": 101, "measure": "stand_early", "text": text, "replaces": replaces, "reason": reason});
    server.post("/api/trials/26-03/observations", &json!({"by": BY, "values": [value]}), StatusCode::OK).await
}

fn cell(table: &Value) -> &Value {
    let rows = table["rows"].as_array().expect("rows");
    &rows.iter().find(|row| row["plot"] == 101).expect("the row of plot 101")["cells"][0]
}

#[tokio::test]
async fn a_table_is_shown_as_it_was_known_at_a_moment() {
    let server = server_at(clock);
    HOUR.store(6, Ordering::SeqCst);
    server.post("/api/trials", &json!({"plan": plan(), "by": BY}), StatusCode::CREATED).await;
    server.post("/api/trials/26-03/layout", &json!({"by": BY}), StatusCode::OK).await;
    HOUR.store(8, Ordering::SeqCst);
    let first = record(&server, "38,5", None).await;
    let first = cell(&first)[0]["id"].as_str().expect("an entry has an id").to_owned();
    HOUR.store(10, Ordering::SeqCst);
    record(&server, "39", Some(&first)).await;
    HOUR.store(11, Ordering::SeqCst);

    for (as_of, value) in [("08:00:00Z", 38.5), ("09:59:59Z", 38.5), ("10:00:00Z", 39.0), ("12:30:00%2B02:00", 39.0)] {
        let table = server.read(&format!("{TABLE}&as_of=2026-05-25T{as_of}")).await;
        assert_eq!(cell(&table)[0]["value"], value, "{as_of}: {table}");
        assert!(table["as_of"].as_str().is_some_and(|told| told.starts_with("2026-05-25T")), "{table}");
    }
    let before = server.read(&format!("{TABLE}&as_of=2026-05-25T07:00:00Z")).await;
    assert_eq!(cell(&before), &json!([]), "{before}");
    let now = server.read(TABLE).await;
    assert_eq!((&cell(&now)[0]["value"], now.get("as_of")), (&json!(39.0), None), "{now}");

    for (as_of, kind, what, place) in [
        ("yesterday", FaultKind::NotUnderstood, "query of the address", "?event=stand%20count&as_of=yesterday"),
        ("2026-05-25", FaultKind::NotUnderstood, "query of the address", "?event=stand%20count&as_of=2026-05-25"),
        ("2026-05-25T05:00:00Z", FaultKind::NotThere, "26-03", "as_of"),
        ("2026-05-25T12:00:00Z", FaultKind::Refused, "still to come", "as_of"),
    ] {
        let fault = check_error(&server.get(&format!("{TABLE}&as_of={as_of}")).await, kind, what);
        assert_eq!(fault.place, place, "{fault:?}");
    }
}
