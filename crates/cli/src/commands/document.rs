//! `guardrow document`

use guardrow_station::{DocumentOptions, StationError};

use crate::arguments::{Kind, TrialOf};

/// Make a document: map, sheets, labels, packing list, report, data package, script for R
///
/// Labels, packing list and sheets lock the layout: another draw then needs a reason.
#[derive(Debug, clap::Args)]
pub(crate) struct Document {
    #[command(flatten)]
    of: TrialOf,
    /// What is to be made
    #[arg(value_name = "KIND")]
    kind: Kind,
    /// Who makes it; every record says who
    #[arg(long, value_name = "NAME")]
    by: String,
    /// Event of a field sheet
    #[arg(long, value_name = "EVENT")]
    event: Option<String>,
    /// Without treatment names
    #[arg(long)]
    blind: bool,
    /// Size of the paper: a4 or letter
    #[arg(long, value_name = "SIZE")]
    paper: Option<String>,
}

pub(crate) fn run(document: &Document) -> Result<String, StationError> {
    let station = super::open(&document.of.station)?;
    let options = DocumentOptions {
        by: document.by.clone(),
        event: document.event.clone(),
        blind: document.blind,
        paper: document.paper.clone(),
    };
    let made = station.make_document(&document.of.code, document.kind.into(), &options)?;
    Ok(format!("{}\n", station.publication(&made.file)?.display()))
}
