//! `guardrow packets`

use guardrow_station::StationError;

use crate::arguments::TrialOf;
use crate::printed;
use crate::trouble::remark_lines;

/// Compute the seed for each plot, in seeding order, and what each lot has to give
#[derive(Debug, clap::Args)]
pub(crate) struct Packets {
    #[command(flatten)]
    of: TrialOf,
    /// Print it as JSON
    #[arg(long)]
    pub json: bool,
}

pub(crate) fn run(packets: &Packets) -> Result<String, StationError> {
    let view = super::open(&packets.of.station)?.packets(&packets.of.code)?;
    if packets.json {
        return printed::json(&view);
    }
    let lines: Vec<Vec<String>> = view
        .packets
        .iter()
        .map(|packet| {
            let cells = [&packet.treatment, &packet.lot, &packet.grams_shown].map(String::clone);
            let numbers = [packet.sequence.to_string(), packet.plot.to_string()];
            numbers.into_iter().chain(cells).chain([packet.seeds.to_string()]).collect()
        })
        .collect();
    let mut text = printed::rows(&["Order", "Plot", "Treatment", "Lot", "Mass", "Seeds"], &lines);
    let grams = |grams: Option<f64>| grams.map_or_else(|| "not known".to_owned(), |grams| format!("{grams:.0} g"));
    let lots: Vec<Vec<String>> = view
        .lots
        .iter()
        .map(|lot| vec![lot.lot.clone(), format!("{:.0} g", lot.need_g), grams(lot.on_hand_g), grams(lot.left_g)])
        .collect();
    text.push('\n');
    text.push_str(&printed::rows(&["Lot", "Needed", "On hand", "Left"], &lots));
    text.extend(view.remarks.iter().map(remark_lines));
    Ok(text)
}
