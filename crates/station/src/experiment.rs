//! From the layout and the observations to what is analysed.

use std::collections::BTreeMap;

use guardrow_design::{Arrangement, Plot};
use guardrow_inference::Experiment;

use crate::dossier::Laid;

/// Plot numbers in the order in which an experiment has its plots.
pub(crate) fn plot_numbers(laid: &Laid) -> Vec<u32> {
    laid.layout.in_number_order().into_iter().filter_map(|plot| plot.number).collect()
}

/// One response on the plots of a layout; `response` follows [`plot_numbers`].
pub(crate) fn experiment(laid: &Laid, response: Vec<Option<f64>>) -> Experiment {
    let plots = laid.layout.in_number_order();
    let blocks = laid.arrangement.block_structure(&laid.treatments);
    let replicate = blocks.outermost().map(str::to_owned);
    let number = |plot: &Plot, unit: &String| {
        if replicate.as_ref() == Some(unit) { plot.replicate } else { plot.unit(unit) }
    };
    // The smallest unit has no numbers of its own where every plot is one.
    let columns = blocks.units().into_iter().filter_map(|unit| {
        let column: Option<Vec<usize>> = plots.iter().map(|plot| number(plot, &unit)).collect();
        Some((unit, column?))
    });
    let units = columns.collect();
    let treatment = plots.iter().filter_map(|plot| plot.treatment).collect();
    let mut experiment = Experiment::new(blocks, units, laid.treatments.clone(), treatment, response);
    if let Arrangement::Stated(stated) = &laid.arrangement {
        experiment.environments.clone_from(&stated.environments);
        experiment.scope = stated.scope;
        experiment.random_factors.clone_from(&stated.random_factors);
        experiment.unit_labels =
            laid.layout.unit_names.iter().map(|(unit, names)| (unit.clone(), listed(names))).collect();
    }
    experiment
}

/// Names by their numbers, with an empty one for a number that nothing has.
fn listed(names: &BTreeMap<usize, String>) -> Vec<String> {
    let last = names.last_key_value().map_or(0, |(number, _)| *number);
    (0..=last).map(|number| names.get(&number).cloned().unwrap_or_default()).collect()
}
