//! `guardrow harvest`

use guardrow_station::StationError;

use crate::arguments::TrialOf;
use crate::printed;

/// Show yields by plot, as harvested and at standard moisture
#[derive(Debug, clap::Args)]
pub(crate) struct Harvest {
    #[command(flatten)]
    of: TrialOf,
    /// Print them as JSON
    #[arg(long)]
    pub json: bool,
}

pub(crate) fn run(harvest: &Harvest) -> Result<String, StationError> {
    let view = super::open(&harvest.of.station)?.harvest(&harvest.of.code)?;
    if harvest.json {
        return printed::json(&view);
    }
    let number = |value: Option<f64>| value.map_or_else(String::new, |value| format!("{value:.3}"));
    let rows: Vec<Vec<String>> = view
        .lines
        .iter()
        .map(|line| {
            let numbers = [number(line.raw), number(line.standard)];
            let head = [line.plot.to_string(), line.treatment.clone()];
            head.into_iter().chain(numbers).chain([line.why_not.clone()]).collect()
        })
        .collect();
    let unit = view.unit.symbol();
    let standard = format!("At {} % ({unit})", view.standard_moisture_pct);
    let raw = format!("As harvested ({unit})");
    Ok(printed::rows(&["Plot", "Treatment", &raw, &standard, "Why not"], &rows))
}
