//! `guardrow draw`

use guardrow_station::{DrawLayout, StationError};

use crate::arguments::TrialOf;

/// Draw the layout of a trial
#[derive(Debug, clap::Args)]
pub(crate) struct Draw {
    #[command(flatten)]
    of: TrialOf,
    /// Who draws it; every record says who
    #[arg(long, value_name = "NAME")]
    by: String,
    /// Seed of an earlier draw, to make the same layout again: 64 hexadecimal digits or a whole number
    #[arg(long, value_name = "SEED")]
    seed: Option<String>,
    /// Why it is drawn again; needed when there is a layout
    #[arg(long, value_name = "REASON", default_value = "")]
    reason: String,
}

pub(crate) fn run(draw: &Draw) -> Result<String, StationError> {
    let station = super::open(&draw.of.station)?;
    let request = DrawLayout { by: draw.by.clone(), seed: draw.seed.clone(), reason: draw.reason.clone() };
    let drawn = station.draw_layout(&draw.of.code, &request)?;
    let plots = drawn.layout.plots.iter().filter(|plot| plot.number.is_some()).count();
    Ok(format!(
        "Layout version {} of trial {}: {plots} plots.\nSeed {}, drawing algorithm {}.\n",
        drawn.line.version, draw.of.code, drawn.line.seed, drawn.line.algorithm
    ))
}
