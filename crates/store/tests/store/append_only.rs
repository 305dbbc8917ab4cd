//! No table lets a row be changed or deleted, not even through another program.

use guardrow_store::{Info, LayoutLock, NewIntake, NewLot, NewPublication, Sha256, new_id};
use rusqlite::Connection;
use serde_json::json;

use crate::invented::{Station, count, day, station, version};

/// At least one row in every table.
fn fill(station: &Station) {
    let store = &station.store;
    let by = || "Ines".to_owned();
    store.set_info(&Info { key: "name".into(), value: json!("Station"), recorded_at: day(1), by: by() }).unwrap();
    let layout_id = store.latest_layout(station.trial).unwrap().unwrap().id;
    store.lock_layout(&LayoutLock { layout_id, what: "packets".into(), locked_at: day(1), by: by() }).unwrap();
    let lot = NewLot { id: new_id(day(1)), code: "S-07".into(), created_at: day(1), by: by() };
    store.create_lot(&lot).unwrap();
    store.append_lot_version(lot.id, 0, &version(json!({}), day(1))).unwrap();
    let sha256 = Sha256::of(b"");
    let intake = NewIntake {
        id: new_id(day(1)),
        trial_id: None,
        file_name: "counts.csv".into(),
        sha256,
        bytes: 0,
        rows: 1,
        accepted_at: day(1),
        by: by(),
        repeat_reason: None,
    };
    store.append_entries(&[count(station.trial, 101, 1.0, day(1))], Some(&intake)).unwrap();
    let publication = NewPublication {
        id: new_id(day(1)),
        trial_id: None,
        kind: "report".into(),
        file: "report.pdf".into(),
        sha256,
        made_at: day(1),
        by: by(),
        inputs: json!({}),
    };
    store.append_publication(&publication).unwrap();
}

fn names(conn: &Connection, sql: &str) -> Vec<String> {
    conn.prepare(sql).unwrap().query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect()
}

#[test]
fn every_table_refuses_update_and_delete() {
    let station = station();
    fill(&station);
    let conn = Connection::open(station.folder.join("station.db")).unwrap();
    let tables = names(&conn, "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'");
    assert_eq!(tables.len(), 11, "{tables:?}");
    for table in tables {
        let rows: i64 = conn.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| row.get(0)).unwrap();
        assert!(rows > 0, "{table} is empty, so that nothing would be tested");
        let column = &names(&conn, &format!("SELECT name FROM pragma_table_info('{table}')"))[1];
        for sql in [format!("UPDATE {table} SET {column} = {column}"), format!("DELETE FROM {table}")] {
            let error = conn.execute(&sql, []).unwrap_err();
            assert!(error.to_string().contains("append-only"), "{sql}: {error}");
        }
    }
}

#[test]
fn every_table_is_strict() {
    let station = station();
    let conn = Connection::open(station.folder.join("station.db")).unwrap();
    let loose = "SELECT name FROM pragma_table_list WHERE schema = 'main' AND name NOT LIKE 'sqlite_%' AND strict = 0";
    assert_eq!(names(&conn, loose), Vec::<String>::new());
}

/// The rules of the table hold against a program that goes around the store.
#[test]
fn the_database_itself_refuses_what_the_store_would() {
    let station = station();
    fill(&station);
    let conn = Connection::open(station.folder.join("station.db")).unwrap();
    let insert = |columns: &str, values: &str| {
        let sql = format!(
            "INSERT INTO entry (id, trial_id, kind, status, recorded_at, by_whom, source_kind {columns})
             SELECT randomblob(16), id, 'observation', 'value', created_at, 'Ines', 'screen' {values} FROM trial"
        );
        conn.execute(&sql, [])
    };
    assert_eq!(insert(", number", ", 1.0").unwrap(), 1, "a good one passes");
    let cases = [
        ("", ""),
        (", number, replaces", ", 1.0, (SELECT id FROM entry LIMIT 1)"),
        (", number, replaces, reason", ", 1.0, (SELECT id FROM entry LIMIT 1), ' '"),
        (", number, replaces, reason", ", 1.0, randomblob(16), 'misread'"),
        (", number, layout_version", ", 1.0, 99"),
        (", number, body", ", 1.0, 'no json'"),
        (", number, observed_at", ", 1.0, 'in May'"),
    ];
    conn.pragma_update(None, "foreign_keys", true).unwrap();
    for (columns, values) in cases {
        assert!(insert(columns, values).is_err(), "{columns} {values}");
    }
}
