//! What is told while the station is made and when it is done.

use std::path::PathBuf;

use guardrow_station::Stage;

/// One step that was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// Code of the trial; empty for the station itself.
    pub trial: String,
    /// What was done, in words.
    pub what: String,
}

/// What was made.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary {
    /// Name of the station.
    pub name: String,
    /// Its folder.
    pub folder: PathBuf,
    /// Its trials, in the order in which they were made.
    pub trials: Vec<TrialOutcome>,
}

/// How far one trial was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialOutcome {
    /// Code.
    pub code: String,
    /// Title.
    pub title: String,
    /// How far it is.
    pub stage: Stage,
    /// Its findings; none before harvest.
    pub findings: Vec<FindingLine>,
    /// Its papers, as files.
    pub papers: Vec<PathBuf>,
}

/// One finding, short.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FindingLine {
    /// What was compared.
    pub claim: String,
    /// The verdict in words.
    pub verdict: String,
    /// Estimate and interval.
    pub numbers: String,
}
