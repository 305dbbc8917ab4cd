//! `guardrow plan`

use guardrow_station::StationError;

use crate::arguments::TrialOf;

/// Print the plan file of a trial
#[derive(Debug, clap::Args)]
pub(crate) struct Plan {
    #[command(flatten)]
    of: TrialOf,
}

pub(crate) fn run(plan: &Plan) -> Result<String, StationError> {
    super::open(&plan.of.station)?.plan_file(&plan.of.code)
}
