//! Making and opening a station.

use std::fs;
use std::path::Path;

use guardrow_store::{APPLICATION_ID, SCHEMA_VERSION, Sha256, Store, StoreError};
use rusqlite::Connection;

use crate::invented::{count, day, station};
use crate::other_process;

fn fingerprint(file: &Path) -> Sha256 {
    Sha256::of(&fs::read(file).unwrap())
}

#[test]
fn a_new_station_has_its_folders_and_opens_again() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("deep").join("station");
    drop(Store::create(&folder).unwrap());
    for name in ["photos", "publications", "backups"] {
        assert!(folder.join(name).is_dir(), "{name}");
    }
    let store = Store::open(&folder).unwrap();
    store.check().unwrap();
    assert_eq!(store.trials().unwrap(), []);
    drop(store);
    assert!(!folder.join("station.db-wal").exists(), "closing leaves one file");
}

#[test]
fn a_station_is_not_made_over_another_or_among_other_files() {
    let station = station();
    let error = Store::create(&station.folder).unwrap_err();
    assert!(matches!(error, StoreError::AlreadyStation { .. }), "{error}");

    let other = tempfile::tempdir().unwrap();
    fs::write(other.path().join("notes.txt"), "mine").unwrap();
    let error = Store::create(other.path()).unwrap_err();
    assert!(matches!(&error, StoreError::FolderNotEmpty { example, .. } if example == "notes.txt"), "{error}");
    assert_eq!(fs::read_dir(other.path()).unwrap().count(), 1, "nothing was added to the folder");
}

#[test]
fn an_interrupted_making_is_taken_up_again() {
    let home = tempfile::tempdir().unwrap();
    fs::create_dir(home.path().join("photos")).unwrap();
    fs::write(home.path().join("lock"), "").unwrap();
    fs::write(home.path().join("station.db.part"), "half").unwrap();
    fs::write(home.path().join("station.db.part-wal"), "half").unwrap();
    assert!(matches!(Store::open(home.path()), Err(StoreError::NotAStation { .. })));
    Store::create(home.path()).unwrap().check().unwrap();
    assert!(!home.path().join("station.db.part").exists());
}

#[test]
fn a_folder_without_a_station_is_told() {
    let home = tempfile::tempdir().unwrap();
    for folder in [home.path().to_owned(), home.path().join("not there")] {
        assert!(matches!(Store::open(&folder), Err(StoreError::NotAStation { .. })));
        assert!(matches!(Store::open_read_only(&folder), Err(StoreError::NotAStation { .. })));
    }
}

#[test]
fn a_second_opening_is_refused_and_the_first_named() {
    let station = station();
    let error = Store::open(&station.folder).unwrap_err();
    assert!(matches!(error, StoreError::InUse { pid: Some(pid), .. } if pid == std::process::id()), "{error}");
    let folder = station.folder.clone();
    drop(station.store);
    Store::open(folder).unwrap();
}

#[test]
fn a_second_process_is_refused() {
    if let Some(folder) = other_process::given_folder() {
        println!("second process: {}", Store::open(folder).unwrap_err());
        return;
    }
    let station = station();
    let output = other_process::again("opening::a_second_process_is_refused", &station.folder).output().unwrap();
    let told = String::from_utf8_lossy(&output.stdout);
    let expected = format!("is in use by another process (process {})", std::process::id());
    assert!(told.contains(&expected), "{told}");
}

#[test]
fn a_reader_beside_the_writer_sees_what_is_accepted_and_cannot_write() {
    let station = station();
    let reader = Store::open_read_only(&station.folder).unwrap();
    assert!(reader.is_read_only());
    station.append(&[count(station.trial, 101, 30.0, day(3))]);
    let seen = reader.current_entries(station.trial, &Default::default(), None).unwrap();
    assert_eq!(seen.len(), 1);
    let error = reader.append_entries(&[count(station.trial, 102, 30.0, day(3))], None).unwrap_err();
    assert!(matches!(error, StoreError::OpenedReadOnly { .. }), "{error}");
}

/// The database of a station that was closed, written by a Guardrow of the future.
fn make_newer(file: &Path) {
    let conn = Connection::open(file).unwrap();
    conn.pragma_update(None, "user_version", SCHEMA_VERSION + 1).unwrap();
}

#[test]
fn a_newer_database_is_refused_and_left_as_it_is() {
    let station = station();
    drop(station.store);
    let file = station.folder.join("station.db");
    make_newer(&file);
    let before = (fingerprint(&file), fs::read_dir(&station.folder).unwrap().count());
    for opened in [Store::open(&station.folder), Store::open_read_only(&station.folder)] {
        let error = opened.unwrap_err();
        let (newer, known) = (SCHEMA_VERSION + 1, SCHEMA_VERSION);
        assert!(matches!(error, StoreError::Newer { found, known: k, .. } if found == newer && k == known), "{error}");
    }
    assert_eq!((fingerprint(&file), fs::read_dir(&station.folder).unwrap().count()), before);
}

/// A newer program that was killed leaves its version in the log, while the file still has the old one.
#[test]
fn a_newer_version_that_stands_only_in_the_log_is_refused_too() {
    let station = station();
    drop(station.store);
    let newer = tempfile::tempdir().unwrap();
    let conn = Connection::open(station.folder.join("station.db")).unwrap();
    conn.pragma_update(None, "user_version", SCHEMA_VERSION + 1).unwrap();
    for name in ["station.db", "station.db-wal"] {
        fs::copy(station.folder.join(name), newer.path().join(name)).unwrap();
    }
    let files = ["station.db", "station.db-wal"].map(|name| newer.path().join(name));
    let before = files.each_ref().map(|file| fingerprint(file));
    let header = fs::read(&files[0]).unwrap();
    assert_eq!(header[60..64], SCHEMA_VERSION.to_be_bytes(), "the file itself must still have the old version");
    let error = Store::open(newer.path()).unwrap_err();
    assert!(matches!(error, StoreError::Newer { .. }), "{error}");
    assert_eq!(files.each_ref().map(|file| fingerprint(file)), before);
}

#[test]
fn a_database_of_another_program_is_refused() {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("station.db");
    Connection::open(&file).unwrap().execute_batch("CREATE TABLE other (x)").unwrap();
    let before = fingerprint(&file);
    let error = Store::open(home.path()).unwrap_err();
    assert!(matches!(error, StoreError::ForeignDatabase { application_id: 0, .. }), "{error}");
    assert_eq!(fingerprint(&file), before);
    assert_eq!(APPLICATION_ID.to_be_bytes(), *b"GRow");
}

/// Permissions do not bind the superuser, so the superuser runs this as somebody else, from a copy of this program that
/// everybody may run.
#[cfg(unix)]
#[test]
fn a_folder_that_may_not_be_written_is_told() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;

    const NOBODY: u32 = 65_534;
    let told = |folder: &Path| {
        let opened = [Store::open(folder), Store::open_read_only(folder), Store::create(folder.join("new"))];
        opened.map(|opened| opened.map_or_else(|error| error.to_string(), |_| "opened".into())).join("\n")
    };
    if let Some(folder) = other_process::given_folder() {
        println!("{}", told(&folder));
        return;
    }
    let station = station();
    let folder = station.folder.clone();
    drop(station.store);
    let home = folder.parent().unwrap();
    let allow = |path: &Path, mode| fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    allow(home, 0o755);
    allow(&folder, 0o555);
    let output = if fs::metadata(home).unwrap().uid() == 0 {
        let program = home.join("copy-of-this-test");
        fs::copy(std::env::current_exe().unwrap(), &program).unwrap();
        allow(&program, 0o755);
        let name = "opening::a_folder_that_may_not_be_written_is_told";
        let mut command = other_process::of_program(&program, name, &folder);
        let output = command.uid(NOBODY).gid(NOBODY).current_dir(home).output().unwrap();
        String::from_utf8_lossy(&output.stdout).into_owned()
    } else {
        told(&folder)
    };
    allow(&folder, 0o755);
    assert_eq!(output.matches("cannot be written").count(), 3, "{output}");
}
