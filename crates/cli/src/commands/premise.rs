//! `guardrow premise`

use clap::ValueEnum;
use guardrow_findings::PremiseStatus;
use guardrow_station::{JudgePremise, StationError};

use crate::arguments::TrialOf;

/// Judge whether the condition that the question needs came about; best before yields are known
#[derive(Debug, clap::Args)]
pub(crate) struct Premise {
    #[command(flatten)]
    of: TrialOf,
    /// What was found
    #[arg(value_name = "FOUND")]
    found: Found,
    /// What was read, where and when
    #[arg(long, value_name = "WORDS")]
    evidence: String,
    /// Who judges; every record says who
    #[arg(long, value_name = "NAME")]
    by: String,
}

/// What was found of a premise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Found {
    /// The condition was there
    Occurred,
    /// It was not
    DidNotOccur,
    /// The readings do not say
    CannotTell,
}

pub(crate) fn run(premise: &Premise) -> Result<String, StationError> {
    let status = match premise.found {
        Found::Occurred => PremiseStatus::Occurred,
        Found::DidNotOccur => PremiseStatus::DidNotOccur,
        Found::CannotTell => PremiseStatus::CannotTell,
    };
    let request = JudgePremise { by: premise.by.clone(), status, evidence: premise.evidence.clone() };
    let trial = super::open(&premise.of.station)?.judge_premise(&premise.of.code, &request)?;
    let after = trial.premise.is_some_and(|judged| judged.after_yields);
    let when = if after { "after yields were known, which the report will say" } else { "before yields were known" };
    Ok(format!("The premise of trial {} is judged, {when}.\n", premise.of.code))
}
