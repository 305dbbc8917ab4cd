//! One trial from its question to its report, through the interface; then what each address refuses.

mod asking;

use asking::pea::{BY, lot, plan};
use asking::{Server, check_error, check_hardened, form, server};
use axum::http::{Method, StatusCode};
use guardrow_web::FaultKind;
use serde_json::{Value, json};

async fn with_trial() -> Server {
    let server = server();
    let trial = server.post("/api/trials", &json!({"plan": plan(), "by": BY}), StatusCode::CREATED).await;
    assert_eq!(trial["plan"]["trial"]["code"], "26-03");
    assert_eq!(trial["plan_version"], 1);
    server
}

async fn with_layout() -> Server {
    let server = with_trial().await;
    let told = server.tell(Method::PUT, "/api/lots/PEA-1", lot().to_string()).await.json(StatusCode::OK);
    assert_eq!(told["code"], "PEA-1");
    let layout = json!({"by": BY, "seed": "7".repeat(64)});
    let layout = server.post("/api/trials/26-03/layout", &layout, StatusCode::OK).await;
    assert_eq!(layout["line"]["version"], 1);
    server
}

async fn plots(server: &Server) -> Vec<(u32, String)> {
    let table = server.read("/api/trials/26-03/observations").await;
    let rows = table["rows"].as_array().expect("rows");
    let plot = |row: &Value| {
        (row["plot"].as_u64().expect("a number") as u32, row["treatment"].as_str().expect("not blind").to_owned())
    };
    rows.iter().map(plot).collect()
}

/// Early plots yield about 500 kg/ha more; a plot is 6 m2.
async fn with_values() -> Server {
    let server = with_layout().await;
    let mut values = Vec::new();
    for (index, (plot, treatment)) in plots(&server).await.into_iter().enumerate() {
        let early = treatment.contains("early");
        let mass = if early { 2.1 } else { 1.8 } + 0.01 * index as f64;
        let stand = if early { 78 } else { 60 } + index % 3;
        for (measure, text) in [
            ("stand_early", stand.to_string()),
            ("harvest_mass", format!("{mass:.2} kg")),
            ("harvest_moisture", "15,5".into()),
            ("harvested_length", "5.0".into()),
            ("harvested_width", "1.2".into()),
        ] {
            values.push(json!({"plot": plot, "measure": measure, "text": text}));
        }
    }
    let typed = json!({"by": BY, "observed_on": "2026-05-04", "values": values});
    let written = server.post("/api/trials/26-03/observations", &typed, StatusCode::OK).await;
    assert!(written["rows"].as_array().is_some_and(|rows| rows.len() == 8), "{written}");
    server
}

#[tokio::test]
async fn the_station_its_crops_and_its_units() {
    let server = with_trial().await;
    let station = server.read("/api/station").await;
    assert_eq!((&station["name"], &station["invented"]), (&json!("Test Station"), &json!(false)));
    assert_eq!(station["trials"][0]["code"], "26-03");
    let crops = server.read("/api/crops").await;
    let pea = crops.as_array().and_then(|crops| crops.iter().find(|crop| crop["name"] == "field pea"));
    // A bushel of peas is 60 lb in the Canadian trade: from memory, and held by the crop table's own tests.
    assert_eq!(pea.expect("pea is a crop")["bushel_lb"], 60.0);
    let units = server.read("/api/units").await;
    let per_area = units.as_array().and_then(|units| units.iter().find(|unit| unit["symbol"] == "kg/ha"));
    assert_eq!(per_area.expect("kg/ha is a unit")["dimension"], "mass_per_area");
}

#[tokio::test]
async fn a_plan_is_checked_saved_and_read_back_as_a_file() {
    let server = with_trial().await;
    let check = server.post("/api/plan/check", &plan(), StatusCode::OK).await;
    assert_eq!((&check["plots"], &check["treatments"]), (&json!(8), &json!(["early", "late"])));
    let mut changed = plan();
    changed["trial"]["title"] = json!("Early or late seeding");
    let save = json!({"plan": changed, "expected_version": 1, "by": BY, "reason": "shorter"});
    let told = server.tell(Method::PUT, "/api/trials/26-03/plan", save.to_string()).await.json(StatusCode::OK);
    assert_eq!((&told["plan_version"], &told["plan"]["trial"]["title"]), (&json!(2), &json!("Early or late seeding")));
    changed["trial"]["title"] = json!("Seeding dates of pea");
    let late = json!({"plan": changed, "expected_version": 1, "by": "S. Sample", "reason": "clearer"});
    let told = server.tell(Method::PUT, "/api/trials/26-03/plan", late.to_string()).await;
    check_error(&told, FaultKind::Stale, "");
    assert_eq!(server.read("/api/trials/26-03").await["plan_version"], 2);
    let file = server.get("/api/trials/26-03/plan.toml").await;
    assert_eq!((file.status, file.header("content-type")), (StatusCode::OK, "application/toml"));
    assert!(file.header("content-disposition").starts_with("attachment; filename=\"26-03.toml\""));
    assert!(file.text().contains("Early or late seeding"), "{}", file.text());
    check_hardened(&file);
}

#[tokio::test]
async fn a_layout_is_drawn_shown_and_mapped() {
    let server = with_layout().await;
    let layout = server.read("/api/trials/26-03/layout?version=1").await;
    assert_eq!(layout["line"]["seed"], "7".repeat(64));
    assert_eq!(layout, server.read("/api/trials/26-03/layout").await);
    let open = server.get("/api/trials/26-03/map.svg").await;
    assert_eq!((open.status, open.header("content-type")), (StatusCode::OK, "image/svg+xml"));
    assert!(open.text().starts_with("<svg") && open.text().contains("early"), "{}", open.text());
    check_hardened(&open);
    let blind = server.get("/api/trials/26-03/map.svg?blind=true").await;
    assert!(blind.text().starts_with("<svg") && !blind.text().contains("early"), "{}", blind.text());
    check_error(&server.get("/api/trials/26-03/layout?version=9").await, FaultKind::NotThere, "");
}

#[tokio::test]
async fn packets_are_told_in_seeding_order() {
    let server = with_layout().await;
    let packets = server.read("/api/trials/26-03/packets").await;
    assert_eq!(packets["packets"].as_array().map(Vec::len), Some(8), "{packets}");
    assert_eq!(packets["packets"][0]["lot"], "PEA-1");
    assert_eq!(packets["lots"][0]["lot"], "PEA-1");
    let other = server.tell(Method::PUT, "/api/lots/PEA-2", lot().to_string()).await;
    let fault = check_error(&other, FaultKind::NotUnderstood, "PEA-2");
    assert_eq!(fault.place, "lot.code");
}

#[tokio::test]
async fn values_are_typed_shown_blind_and_remembered() {
    let server = with_values().await;
    let (plot, _) = plots(&server).await[0].clone();
    let one_event = server.read("/api/trials/26-03/observations?event=stand%20count&blind=true").await;
    assert_eq!(one_event["measures"].as_array().map(Vec::len), Some(1), "{one_event}");
    assert!(one_event["rows"][0].get("treatment").is_none(), "{one_event}");
    let history = server.read(&format!("/api/trials/26-03/history?plot={plot}&measure=stand_early")).await;
    assert_eq!(history.as_array().map(Vec::len), Some(1));
    let wrong = json!({"by": BY, "values": [{"plot": plot, "measure": "stand_early", "text": "many"}]});
    let told = server.tell(Method::POST, "/api/trials/26-03/observations", wrong.to_string()).await;
    let fault = check_error(&told, FaultKind::Refused, "");
    assert!(!fault.remarks.is_empty(), "{fault:?}");
    let harvest = server.read("/api/trials/26-03/harvest").await;
    assert_eq!(harvest["lines"].as_array().map(Vec::len), Some(8));
    assert!(
        harvest["lines"][0]["standard"].as_f64().is_some_and(|value| (2500.0..4000.0).contains(&value)),
        "{harvest}"
    );
}

#[tokio::test]
async fn a_file_is_checked_and_then_accepted_whole() {
    let server = with_layout().await;
    let mut table = "plot,stand_early\n".to_owned();
    for (plot, _) in plots(&server).await {
        table.push_str(&format!("{plot},70\n"));
    }
    let file = || form("file", Some("stand.csv"), table.as_bytes());
    let checked = server.upload("/api/trials/26-03/intake?accept=false", file()).await.json(StatusCode::OK);
    assert_eq!((&checked["file"], &checked["acceptable"]), (&json!("stand.csv"), &json!(true)), "{checked}");
    assert!(checked.get("accepted").is_none(), "{checked}");
    let accepted = format!("/api/trials/26-03/intake?accept=true&by={}", "R.%20Example");
    let accepted = server.upload(&accepted, file()).await.json(StatusCode::OK);
    assert_eq!(accepted["accepted"], 8, "{accepted}");
    let unreadable =
        server.upload("/api/trials/26-03/intake?accept=true&by=R", form("file", Some("a.csv"), b"\x00\x01")).await;
    check_error(&unreadable, FaultKind::NotUnderstood, "");
}

#[tokio::test]
async fn the_season_is_noted_and_the_premise_judged() {
    let server = with_layout().await;
    let note = json!({"kind": "weather", "on": "2026-05-20", "text": "Ground frost", "by": BY});
    let trial = server.post("/api/trials/26-03/notes", &note, StatusCode::OK).await;
    assert_eq!(trial["notes"][0]["text"], "Ground frost");
    let judged = json!({"by": BY, "status": "occurred", "evidence": "logger 2, 4 cm, first 48 h: 5.1 degC"});
    let trial = server.post("/api/trials/26-03/premise", &judged, StatusCode::OK).await;
    assert_eq!(trial["premise"]["status"], "occurred");
    let unknown = json!({"by": BY, "status": "perhaps", "evidence": "none"});
    let told = server.tell(Method::POST, "/api/trials/26-03/premise", unknown.to_string()).await;
    check_error(&told, FaultKind::NotUnderstood, "perhaps");
}

#[tokio::test]
async fn the_report_and_every_document() {
    let server = with_values().await;
    let report = server.read("/api/trials/26-03/report").await;
    assert!(report["findings"].as_array().is_some_and(|findings| !findings.is_empty()), "{report}");
    for (kind, content_type, begins) in [
        ("map", "application/pdf", "%PDF"),
        ("field-sheet", "application/pdf", "%PDF"),
        ("field-workbook", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "PK"),
        ("packet-labels", "application/pdf", "%PDF"),
        ("packing-list", "application/pdf", "%PDF"),
        ("report", "application/pdf", "%PDF"),
        ("data-package", "application/zip", "PK"),
        ("r-script", "application/zip", "PK"),
    ] {
        let options = json!({"by": BY, "event": "stand count"});
        let line = server.post(&format!("/api/trials/26-03/documents/{kind}"), &options, StatusCode::OK).await;
        let file = line["file"].as_str().expect("a publication has a file");
        let document = server.get(&format!("/publications/{file}")).await;
        assert_eq!((document.status, document.header("content-type")), (StatusCode::OK, content_type), "{kind}");
        assert!(document.body.starts_with(begins.as_bytes()), "{kind}");
        let name = file.rsplit('/').next().expect("a path has a last part");
        assert!(document.header("content-disposition").contains(name), "{kind}");
        check_hardened(&document);
    }
    let trial = server.read("/api/trials/26-03").await;
    assert_eq!(trial["publications"].as_array().map(Vec::len), Some(8));
}

#[tokio::test]
async fn a_trial_that_is_not_there_is_told_by_every_address() {
    let server = server();
    for address in [
        "",
        "/plan.toml",
        "/layout",
        "/map.svg",
        "/packets",
        "/observations",
        "/history?plot=101&measure=yield",
        "/harvest",
        "/report",
    ] {
        check_error(&server.get(&format!("/api/trials/99-99{address}")).await, FaultKind::NotThere, "99-99");
    }
    let mut unknown = plan();
    unknown["trial"]["code"] = json!("99-99");
    for (method, address, body) in [
        (Method::PUT, "plan", json!({"plan": unknown, "expected_version": 1, "by": BY})),
        (Method::POST, "layout", json!({"by": BY})),
        (Method::POST, "documents/map", json!({"by": BY})),
        (Method::POST, "observations", json!({"by": BY, "values": []})),
        (Method::POST, "premise", json!({"by": BY, "status": "occurred", "evidence": "seen"})),
        (Method::POST, "notes", json!({"kind": "note", "on": "2026-05-20", "text": "seen", "by": BY})),
    ] {
        let told = server.tell(method, &format!("/api/trials/99-99/{address}"), body.to_string()).await;
        check_error(&told, FaultKind::NotThere, "99-99");
    }
    let told = server.upload("/api/trials/99-99/intake", form("file", Some("a.csv"), b"plot,x\n101,1\n")).await;
    check_error(&told, FaultKind::NotThere, "99-99");
}

/// A misspelt field must not be dropped in silence: what the person meant would be lost.
#[tokio::test]
async fn a_misspelt_field_is_refused_by_every_writing_address() {
    let server = with_layout().await;
    let note = json!({"kind": "note", "on": "2026-05-20", "text": "seen", "by": BY});
    for (method, address, mut body) in [
        (Method::POST, "/api/trials", json!({"plan": plan(), "by": BY})),
        (Method::PUT, "/api/trials/26-03/plan", json!({"plan": plan(), "by": BY})),
        (Method::POST, "/api/plan/check", plan()),
        (Method::POST, "/api/trials/26-03/layout", json!({"by": BY})),
        (Method::PUT, "/api/lots/PEA-1", lot()),
        (Method::POST, "/api/trials/26-03/documents/map", json!({"by": BY})),
        (Method::POST, "/api/trials/26-03/observations", json!({"by": BY, "values": []})),
        (Method::POST, "/api/trials/26-03/premise", json!({"by": BY, "status": "occurred", "evidence": "seen"})),
        (Method::POST, "/api/trials/26-03/notes", note),
    ] {
        body["remakr"] = json!("misspelt");
        let told = server.tell(method, address, body.to_string()).await;
        check_error(&told, FaultKind::NotUnderstood, "remakr");
    }
}
