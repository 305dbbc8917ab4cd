//! From every version of the database to the latest.

use std::fs;
use std::path::Path;

use guardrow_store::{APPLICATION_ID, SCHEMA_VERSION, Store, StoreError, Uuid};
use rusqlite::Connection;
use serde_json::json;

use crate::invented::station;

/// The migrations as they are, by which a database of any earlier version is made.
const MIGRATIONS: [&str; 5] = [
    include_str!("../../migrations/0001_trials.sql"),
    include_str!("../../migrations/0002_lots.sql"),
    include_str!("../../migrations/0003_journal.sql"),
    include_str!("../../migrations/0004_publications.sql"),
    include_str!("../../migrations/0005_units.sql"),
];

/// A row in a table of each version, as its program would have left it.
const ROWS: [&str; 5] = [
    "INSERT INTO trial VALUES (zeroblob(16), 'K1', '2026-05-01T12:00:00.000000000Z', 'Ines');
     INSERT INTO plan VALUES (zeroblob(16), 1, '{\"question\":\"old\"}', '2026-05-01T12:00:00.000000000Z', 'Ines', NULL);",
    "INSERT INTO lot VALUES (zeroblob(16), 'S-07', '2026-05-01T12:00:00.000000000Z', 'Ines');",
    "INSERT INTO entry (id, trial_id, kind, status, number, recorded_at, by_whom, source_kind)
     VALUES (zeroblob(16), zeroblob(16), 'observation', 'value', 7.5, '2026-05-01T12:00:00.000000000Z', 'Ines', 'screen');",
    "",
    "",
];

fn make_version(file: &Path, version: u32) {
    let conn = Connection::open(file).unwrap();
    for step in 0..version as usize {
        conn.execute_batch(MIGRATIONS[step]).unwrap();
        conn.execute_batch(ROWS[step]).unwrap();
    }
    conn.pragma_update(None, "application_id", APPLICATION_ID).unwrap();
    conn.pragma_update(None, "user_version", version).unwrap();
}

fn schema(file: &Path) -> Vec<(String, String)> {
    let conn = Connection::open(file).unwrap();
    let mut statement =
        conn.prepare("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name").unwrap();
    statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap().map(Result::unwrap).collect()
}

fn version_of(file: &Path) -> u32 {
    Connection::open(file).unwrap().pragma_query_value(None, "user_version", |row| row.get(0)).unwrap()
}

#[test]
fn every_version_is_brought_up_to_date_and_keeps_its_rows() {
    let fresh = station();
    let expected = schema(&fresh.folder.join("station.db"));
    assert_eq!(MIGRATIONS.len() as u32, SCHEMA_VERSION);
    for version in 0..=SCHEMA_VERSION {
        let home = tempfile::tempdir().unwrap();
        let file = home.path().join("station.db");
        make_version(&file, version);

        let store = Store::open(home.path()).unwrap();
        store.check().unwrap();
        assert_eq!(store.trials().unwrap().len(), usize::from(version >= 1));
        assert_eq!(store.lots().unwrap().len(), usize::from(version >= 2));
        let entry = store.entry(Uuid::nil()).unwrap();
        assert_eq!(entry.map(|entry| entry.number), (version >= 3).then_some(Some(7.5)));
        if version >= 1 {
            assert_eq!(store.latest_plan(Uuid::nil()).unwrap().unwrap().body, json!({"question": "old"}));
        }
        drop(store);
        assert_eq!(version_of(&file), SCHEMA_VERSION);
        assert_eq!(schema(&file), expected, "from version {version}");

        let backup = home.path().join("backups").join(format!("before-version-{SCHEMA_VERSION}-from-{version}.db"));
        assert_eq!(backup.exists(), version < SCHEMA_VERSION);
        if backup.exists() {
            assert_eq!(version_of(&backup), version);
        }
    }
}

/// Version 4 wrote main plots in a column and a field of their own, and the plan's table columns alike.
#[test]
fn main_plots_of_version_4_become_units() {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("station.db");
    make_version(&file, 4);
    let plots = r#"[{"number":101,"main_plot":2,"x_m":4.560000001},{"number":null,"main_plot":null,"x_m":0.0}]"#;
    let plan = r#"{"question":"two","table":{"plot":"p","main_plot":"strip"}}"#;
    Connection::open(&file)
        .unwrap()
        .execute_batch(&format!(
            "INSERT INTO plan VALUES (zeroblob(16), 2, '{plan}', '2026-05-01T12:00:00.000000000Z', 'Ines', NULL);
             INSERT INTO layout VALUES (randomblob(16), zeroblob(16), 1, 2, '{{\"ranges\":1,\"plots\":{plots}}}', NULL, 'a 1',
                 '2026-05-01T12:00:00.000000000Z', 'Ines', NULL);
             INSERT INTO plot (layout_id, number, replicate, main_plot, treatment, kind) SELECT id, 101, 1, 2, 'T', 'plot' FROM layout;
             INSERT INTO plot (layout_id, kind) SELECT id, 'guard' FROM layout;"
        ))
        .unwrap();

    let store = Store::open(home.path()).unwrap();
    let layout = store.latest_layout(Uuid::nil()).unwrap().unwrap();
    let expected = json!({"ranges": 1, "plots": [
        {"number": 101, "x_m": 4.560000001, "units": {"main plot": 2}},
        {"number": null, "x_m": 0.0, "units": {}},
    ]});
    assert_eq!(layout.body, expected);
    let units: Vec<_> = store.plots(layout.id).unwrap().into_iter().map(|plot| plot.units).collect();
    assert_eq!(units, [[("main plot".to_owned(), 2)].into(), Default::default()]);
    let plan = store.latest_plan(Uuid::nil()).unwrap().unwrap();
    assert_eq!(plan.body, json!({"question": "two", "table": {"plot": "p", "units": {"main plot": "strip"}}}));
}

#[test]
fn an_older_database_is_not_changed_by_reading() {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("station.db");
    make_version(&file, 2);
    let before = fs::read(&file).unwrap();
    let error = Store::open_read_only(home.path()).unwrap_err();
    assert!(matches!(error, StoreError::Older { found: 2, known: SCHEMA_VERSION, .. }), "{error}");
    assert_eq!(fs::read(&file).unwrap(), before);
}

#[test]
fn a_migration_that_fails_leaves_the_old_version() {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("station.db");
    make_version(&file, 1);
    // A table in the way of version 3, so that version 2 must be taken back as well.
    Connection::open(&file).unwrap().execute_batch("CREATE TABLE intake (x)").unwrap();
    let expected = schema(&file);
    let error = Store::open(home.path()).unwrap_err();
    assert!(error.to_string().contains("table intake already exists"), "{error}");
    assert_eq!((version_of(&file), schema(&file)), (1, expected));
}
