//! `guardrow findings`

use guardrow_station::StationError;

use crate::arguments::TrialOf;
use crate::printed;

/// Say what a trial has shown, and what it has not
#[derive(Debug, clap::Args)]
pub(crate) struct FindingsOf {
    #[command(flatten)]
    of: TrialOf,
    /// Print the whole report as JSON, with the analyses unrounded
    #[arg(long)]
    pub json: bool,
}

pub(crate) fn run(findings: &FindingsOf) -> Result<String, StationError> {
    let full = super::open(&findings.of.station)?.report_in_full(&findings.of.code)?;
    if findings.json { printed::json(&full) } else { Ok(printed::findings(&full.report.findings)) }
}
