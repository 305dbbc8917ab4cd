//! From the layout and the observations to what is analysed.

use guardrow_design::{BLOCK, MAIN_PLOT};
use guardrow_inference::Experiment;

use crate::dossier::Laid;

/// Plot numbers in the order in which an experiment has its plots.
pub(crate) fn plot_numbers(laid: &Laid) -> Vec<u32> {
    laid.layout.in_number_order().into_iter().filter_map(|plot| plot.number).collect()
}

/// One response on the plots of a layout; `response` follows [`plot_numbers`].
pub(crate) fn experiment(laid: &Laid, response: Vec<Option<f64>>) -> Experiment {
    let plots = laid.layout.in_number_order();
    let blocks = laid.arrangement.block_structure();
    let units = blocks
        .units()
        .into_iter()
        .filter_map(|unit| {
            let column = match unit.as_str() {
                BLOCK => plots.iter().map(|plot| plot.replicate.unwrap_or(1)).collect(),
                MAIN_PLOT => plots.iter().map(|plot| plot.main_plot.unwrap_or(1)).collect(),
                _ => return None,
            };
            Some((unit, column))
        })
        .collect();
    let treatment = plots.iter().filter_map(|plot| plot.treatment).collect();
    Experiment::new(blocks, units, laid.treatments.clone(), treatment, response)
}
