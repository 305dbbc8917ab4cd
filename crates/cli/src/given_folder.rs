//! Folders that a command fills.

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

use guardrow_station::{ErrorKind, StationError};

use crate::given_file::cannot;

/// Writes a folder whole or not at all: first beside its place, then moved there.
///
/// A folder that holds something is left alone, unless it is to be replaced and holds files of the same names only.
pub(crate) fn write(folder: &Path, files: &[(String, Vec<u8>)], replace: bool) -> Result<(), StationError> {
    // The folder may be named with a slash at its end.
    let folder: PathBuf = folder.components().collect();
    refuse_if_in_use(&folder, files, replace)?;
    let aside = beside(&folder, "part");
    let written = fill(&aside, files).and_then(|()| put_in_place(&aside, &folder));
    if written.is_err() {
        // The cause matters more than a left-over that cannot be removed either.
        let _ = fs::remove_dir_all(&aside);
    }
    written
}

fn refuse_if_in_use(folder: &Path, files: &[(String, Vec<u8>)], replace: bool) -> Result<(), StationError> {
    let place = || folder.display().to_string();
    if folder.file_name().is_none() {
        let what = format!("{} is no folder that can be made", place());
        return Err(StationError::new(ErrorKind::NotUnderstood, what, place(), "name a folder that is not there yet"));
    }
    let held = match fs::read_dir(folder) {
        Ok(held) => held,
        Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => return Ok(()),
        Err(cause) => return Err(cannot("make", folder, &cause)),
    };
    let names: Vec<OsString> = held.filter_map(|entry| Some(entry.ok()?.file_name())).collect();
    let is_ours = |name: &OsString| files.iter().any(|(file, _)| name == file.as_str());
    let strange = names.iter().find(|name| !is_ours(name));
    let (what, try_this) = match strange {
        None if names.is_empty() || replace => return Ok(()),
        None => (format!("{} holds files already", place()), "name a new folder, or add --replace"),
        Some(name) => (
            format!("{} holds {}, which is no file of this kind", place(), name.to_string_lossy()),
            "name a new folder; nothing of yours is written over",
        ),
    };
    Err(StationError::new(ErrorKind::Refused, what, place(), try_this))
}

fn fill(aside: &Path, files: &[(String, Vec<u8>)]) -> Result<(), StationError> {
    if aside.exists() {
        fs::remove_dir_all(aside).map_err(|cause| cannot("remove", aside, &cause))?;
    }
    fs::create_dir_all(aside).map_err(|cause| cannot("make", aside, &cause))?;
    for (name, bytes) in files {
        let path = aside.join(name);
        fs::write(&path, bytes).map_err(|cause| cannot("write", &path, &cause))?;
    }
    Ok(())
}

/// Moves the new folder to its place; an earlier one steps aside until it is there.
fn put_in_place(aside: &Path, folder: &Path) -> Result<(), StationError> {
    let earlier = beside(folder, "earlier");
    let had_one = folder.exists();
    if had_one {
        fs::rename(folder, &earlier).map_err(|cause| cannot("replace", folder, &cause))?;
    }
    match fs::rename(aside, folder) {
        Ok(()) if had_one => fs::remove_dir_all(&earlier).map_err(|cause| cannot("remove", &earlier, &cause)),
        Ok(()) => Ok(()),
        Err(cause) => {
            if had_one {
                let _ = fs::rename(&earlier, folder);
            }
            Err(cannot("make", folder, &cause))
        }
    }
}

fn beside(folder: &Path, ending: &str) -> PathBuf {
    let mut name = folder.as_os_str().to_owned();
    name.push(".");
    name.push(ending);
    PathBuf::from(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn files(text: &str) -> Vec<(String, Vec<u8>)> {
        vec![("a.csv".to_owned(), text.into()), ("b.R".to_owned(), text.into())]
    }

    #[test]
    fn a_folder_in_use_is_left_alone() {
        let home = std::env::temp_dir().join(format!("guardrow-folder-{}", std::process::id()));
        let _ = fs::remove_dir_all(&home);
        let folder = home.join("script");
        write(&folder, &files("one"), false).expect("a new folder with those above it");
        let refused = write(&folder, &files("two"), false).expect_err("it is in use");
        assert!(refused.to_string().contains("holds files already"), "{refused}");
        write(&folder, &files("two"), true).expect("it was told to");
        assert_eq!(fs::read_to_string(folder.join("b.R")).expect("the file"), "two");
        fs::write(folder.join("notes.txt"), "mine").expect("written");
        let refused = write(&folder, &files("three"), true).expect_err("a file of the person's own");
        assert!(refused.to_string().contains("notes.txt"), "{refused}");
        assert_eq!(fs::read_to_string(folder.join("a.csv")).expect("the file"), "two");
        let left: Vec<_> = fs::read_dir(&home).expect("the home").filter_map(|it| Some(it.ok()?.file_name())).collect();
        assert_eq!(left, ["script"], "nothing half-written stays");
        fs::remove_dir_all(&home).expect("cleaned up");
    }
}
