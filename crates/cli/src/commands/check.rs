//! `guardrow check`

use guardrow_station::StationError;

use crate::arguments::StationFolder;

/// Check the files of a station for damage
#[derive(Debug, clap::Args)]
pub(crate) struct Check {
    #[command(flatten)]
    at: StationFolder,
}

pub(crate) fn run(check: &Check) -> Result<String, StationError> {
    let station = super::open(&check.at.station)?;
    let missing = station.check()?;
    if missing.is_empty() {
        return Ok("The records of the station are sound, and every document is in its folder, unchanged.\n".to_owned());
    }
    let mut text = "The records of the station are sound. Some documents are not as they were made:\n".to_owned();
    text.extend(missing.iter().map(crate::trouble::remark_lines));
    Ok(text)
}
