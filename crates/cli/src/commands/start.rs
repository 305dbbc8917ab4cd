//! `guardrow start`

use std::path::PathBuf;

use guardrow_station::{ErrorKind, SavePlan, StationError, TrialView};

use super::trials::stage;
use crate::arguments::StationFolder;
use crate::given_file;
use crate::trouble::remark_lines;

/// Start a trial from a plan file, or change its plan to what the file says
///
/// The plan may be incomplete: what is missing is said, and the file can be brought again.
#[derive(Debug, clap::Args)]
pub(crate) struct Start {
    #[command(flatten)]
    at: StationFolder,
    /// Plan file of the trial
    #[arg(value_name = "PLAN.toml")]
    plan: PathBuf,
    /// Who does it; every record says who
    #[arg(long, value_name = "NAME")]
    by: String,
    /// Why the plan changes; needed once the layout was used
    #[arg(long, value_name = "REASON", default_value = "")]
    reason: String,
}

pub(crate) fn run(start: &Start) -> Result<String, StationError> {
    let plan = given_file::plan(&start.plan)?;
    let station = super::open(&start.at.station)?;
    let code = plan.trial.code.clone();
    let known = match station.trial(&code) {
        Ok(trial) => Some(trial.plan_version),
        Err(error) if error.kind == ErrorKind::NotThere => None,
        Err(error) => return Err(error),
    };
    let request = SavePlan { plan, expected_version: known, by: start.by.clone(), reason: start.reason.clone() };
    let trial = match known {
        None => station.start_trial(&request)?,
        Some(_) => station.save_plan(&code, &request)?,
    };
    Ok(in_words(&trial))
}

fn in_words(trial: &TrialView) -> String {
    let mut text = format!(
        "Trial {}, plan version {}: {}.\nNext: {}\n",
        trial.plan.trial.code,
        trial.plan_version,
        stage(trial.stage),
        trial.next
    );
    text.extend(trial.remarks.iter().map(remark_lines));
    text
}
