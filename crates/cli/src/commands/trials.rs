//! `guardrow trials`

use guardrow_station::{Stage, StationError};

use crate::arguments::StationFolder;
use crate::printed;

/// List the trials of a station
#[derive(Debug, clap::Args)]
pub(crate) struct Trials {
    #[command(flatten)]
    at: StationFolder,
    /// Print the list as JSON
    #[arg(long)]
    pub json: bool,
}

pub(crate) fn run(trials: &Trials) -> Result<String, StationError> {
    let view = super::open(&trials.at.station)?.view()?;
    if trials.json {
        return printed::json(&view);
    }
    let invented = if view.invented { "\nAll data of this station are invented." } else { "" };
    if view.trials.is_empty() {
        return Ok(format!("{}{invented}\nThere is no trial yet.\n", view.name));
    }
    let rows: Vec<Vec<String>> = view
        .trials
        .into_iter()
        .map(|trial| vec![trial.code, trial.title, trial.season.to_string(), stage(trial.stage).to_owned(), trial.next])
        .collect();
    Ok(format!("{}{invented}\n{}", view.name, printed::rows(&["Code", "Title", "Season", "Stage", "Next"], &rows)))
}

/// The stage in words.
pub(crate) fn stage(stage: Stage) -> &'static str {
    match stage {
        Stage::Asking => "being asked",
        Stage::Planned => "planned",
        Stage::LaidOut => "laid out",
        Stage::InSeason => "in season",
        Stage::Observed => "observed",
    }
}
