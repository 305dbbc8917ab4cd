//! `guardrow note`

use guardrow_station::{SeasonNote, StationError};

use crate::arguments::TrialOf;

/// Write a note of the season: an operation, a deviation, an incident, the weather
#[derive(Debug, clap::Args)]
pub(crate) struct Note {
    #[command(flatten)]
    of: TrialOf,
    /// operation, deviation, incident, weather or note
    #[arg(value_name = "KIND")]
    kind: String,
    /// The note
    #[arg(value_name = "TEXT")]
    text: String,
    /// Day that it is about: 2026-05-14
    #[arg(long, value_name = "DAY")]
    on: jiff::civil::Date,
    /// Plot that it is about; may be given several times, and left out for the whole trial
    #[arg(long = "plot", value_name = "NUMBER")]
    plots: Vec<u32>,
    /// Who writes it; every record says who
    #[arg(long, value_name = "NAME")]
    by: String,
}

pub(crate) fn run(note: &Note) -> Result<String, StationError> {
    let written = SeasonNote {
        kind: note.kind.clone(),
        on: note.on,
        text: note.text.clone(),
        plots: note.plots.clone(),
        by: note.by.clone(),
    };
    let trial = super::open(&note.of.station)?.add_note(&note.of.code, &written)?;
    Ok(format!("Noted. Trial {} has {} notes.\n", note.of.code, trial.notes.len()))
}
