//! `guardrow bring-in`

use std::path::PathBuf;

use guardrow_station::StationError;

use crate::arguments::StationFolder;
use crate::given_file;

/// Take a trial that was laid out elsewhere into a station
#[derive(Debug, clap::Args)]
pub(crate) struct BringIn {
    #[command(flatten)]
    at: StationFolder,
    /// Plan file of the trial
    #[arg(value_name = "PLAN.toml")]
    plan: PathBuf,
    /// Table with a row per plot: CSV or a workbook
    #[arg(value_name = "TABLE")]
    table: PathBuf,
    /// Who does it; every record says who
    #[arg(long, value_name = "NAME")]
    by: String,
}

pub(crate) fn run(bring_in: &BringIn) -> Result<String, StationError> {
    let plan = given_file::plan(&bring_in.plan)?;
    let table = given_file::table(&bring_in.table)?;
    let station = super::open(&bring_in.at.station)?;
    let trial = station.bring_in(&plan, &table, &bring_in.by)?;
    let plots = trial.events.first().map_or(0, |event| event.plots);
    Ok(format!("Trial {} is in the station, with {plots} plots.\nNext: {}\n", trial.plan.trial.code, trial.next))
}
