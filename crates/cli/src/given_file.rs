//! Files named on the command line.

use std::fs;
use std::io::ErrorKind as Cause;
use std::path::Path;

use guardrow_station::{ErrorKind, IncomingFile, Plan, StationError, read_plan_file};

/// Reads a table as it is.
pub(crate) fn table(path: &Path) -> Result<IncomingFile, StationError> {
    let bytes = fs::read(path).map_err(|cause| cannot("read", path, &cause))?;
    let name = path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned());
    Ok(IncomingFile { name, bytes })
}

/// Reads a plan file.
pub(crate) fn plan(path: &Path) -> Result<Plan, StationError> {
    let file = table(path)?;
    let text = String::from_utf8(file.bytes).map_err(|error| {
        StationError::new(
            ErrorKind::NotUnderstood,
            "the plan file is no text in UTF-8",
            format!("{}, byte {}", file.name, error.utf8_error().valid_up_to() + 1),
            "choose the plan file, which ends in .toml, and save it as UTF-8",
        )
    })?;
    read_plan_file(&file.name, &text)
}

/// Writes a file whole or not at all: first beside its place, then moved there.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> Result<(), StationError> {
    let mut aside = path.as_os_str().to_owned();
    aside.push(".part");
    let aside = Path::new(&aside);
    let written = fs::write(aside, bytes).and_then(|()| fs::rename(aside, path));
    written.map_err(|cause| {
        // The cause matters more than a left-over that cannot be removed either.
        let _ = fs::remove_file(aside);
        cannot("write", path, &cause)
    })
}

/// Makes a folder and those above it.
pub(crate) fn make_folder(path: &Path) -> Result<(), StationError> {
    fs::create_dir_all(path).map_err(|cause| cannot("make", path, &cause))
}

/// Trouble with a file, from what the system says.
pub(crate) fn cannot(doing: &str, path: &Path, cause: &std::io::Error) -> StationError {
    let (kind, try_this) = match cause.kind() {
        Cause::NotFound => (ErrorKind::NotThere, "look at the name and the folder"),
        Cause::IsADirectory => (ErrorKind::NotUnderstood, "name a file, not a folder"),
        Cause::StorageFull | Cause::QuotaExceeded | Cause::FileTooLarge => {
            (ErrorKind::NoRoom, "make room on the disk, or write elsewhere")
        }
        Cause::PermissionDenied | Cause::ReadOnlyFilesystem => {
            (ErrorKind::NoRoom, "see to it that you may read and write there")
        }
        _ => (ErrorKind::NoRoom, "look whether the disk is there and sound"),
    };
    StationError::new(kind, format!("cannot {doing} {}: {cause}", path.display()), path.display().to_string(), try_this)
}
