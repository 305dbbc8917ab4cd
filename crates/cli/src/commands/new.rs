//! `guardrow new`

use std::path::PathBuf;

use guardrow_station::{Station, StationError};

/// Set up a station of your own in a new folder
#[derive(Debug, clap::Args)]
pub(crate) struct New {
    /// Folder to be made; it may exist, if it is empty
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
    /// Name of the station, as it is to be printed on every document
    #[arg(long, value_name = "NAME")]
    name: String,
}

pub(crate) fn run(new: &New) -> Result<String, StationError> {
    let station = Station::create(&new.folder, &new.name, jiff::Timestamp::now)?;
    Ok(format!(
        "The station “{}” is set up in {}.\nOpen it with: guardrow serve {} --open\n",
        new.name,
        station.folder().display(),
        new.folder.display()
    ))
}
