//! `guardrow backup`

use std::path::PathBuf;

use guardrow_station::StationError;

use crate::arguments::StationFolder;

/// Copy the records of a station into one file, and check the copy
///
/// Photos and documents are plain files of the station's folder and are not in it.
#[derive(Debug, clap::Args)]
pub(crate) struct Backup {
    #[command(flatten)]
    at: StationFolder,
    /// File to be made; it must not exist
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

pub(crate) fn run(backup: &Backup) -> Result<String, StationError> {
    let bytes = super::open(&backup.at.station)?.back_up(&backup.file)?;
    Ok(format!(
        "{} holds all records of the station ({} kB), and was checked.\n",
        backup.file.display(),
        bytes.div_ceil(1000)
    ))
}
