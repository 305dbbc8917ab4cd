//! Observations as they are known: for each plot and measure no entry, one, or several that disagree.

use std::collections::HashMap;

use crate::dossier::Dossier;
use crate::{CellEntry, Status};

/// A value that was checked and can be written.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct NewObservation {
    /// Plot number.
    pub plot: u32,
    /// Index into the trial's measures.
    pub measure: usize,
    /// Value or kind of empty.
    pub status: Status,
    /// The value in the measure's unit.
    pub value: Option<f64>,
    /// As written.
    pub text: String,
    /// Day of the observation.
    pub observed_on: Option<jiff::civil::Date>,
    /// Sheet of the file.
    pub sheet: Option<String>,
    /// Line of the file.
    pub line: usize,
}

/// A note on one plot, as a filled sheet holds it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct NewNote {
    /// Plot number.
    pub plot: u32,
    /// The note.
    pub text: String,
    /// Day it is about; the day of intake when absent.
    pub on: Option<jiff::civil::Date>,
    /// Sheet of the file.
    pub sheet: Option<String>,
    /// Line of the file.
    pub line: usize,
}

/// What is known of every plot and measure of a trial.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Observed {
    cells: HashMap<(u32, usize), Vec<CellEntry>>,
}

impl Observed {
    /// Adds an entry to a cell.
    pub(crate) fn add(&mut self, plot: u32, measure: usize, entry: CellEntry) {
        self.cells.entry((plot, measure)).or_default().push(entry);
    }

    /// The entries of a cell.
    pub(crate) fn at(&self, plot: u32, measure: usize) -> &[CellEntry] {
        self.cells.get(&(plot, measure)).map_or(&[], Vec::as_slice)
    }

    /// The one value of a cell; none when it is empty or its entries disagree.
    pub(crate) fn value(&self, plot: u32, measure: usize) -> Option<f64> {
        match self.at(plot, measure) {
            [entry] => entry.value,
            entries => {
                let first = entries.first()?.value;
                entries.iter().all(|entry| entry.value == first).then_some(first).flatten()
            }
        }
    }

    /// True when a cell holds a value or a kind of empty other than not yet.
    pub(crate) fn is_done(&self, plot: u32, measure: usize) -> bool {
        self.at(plot, measure).iter().any(|entry| entry.status != Status::NotYet)
    }

    /// Plots and measures whose entries disagree.
    pub(crate) fn disagreements(&self) -> Vec<(u32, usize)> {
        let mut cells: Vec<(u32, usize)> = self
            .cells
            .iter()
            .filter(|(_, entries)| {
                entries.windows(2).any(|pair| (pair[0].status, pair[0].value) != (pair[1].status, pair[1].value))
            })
            .map(|(cell, _)| *cell)
            .collect();
        cells.sort_unstable();
        cells
    }

    /// True when any plot has a value of the measure.
    pub(crate) fn has_values(&self, measure: usize) -> bool {
        self.cells.iter().any(|((_, at), entries)| *at == measure && entries.iter().any(|entry| entry.value.is_some()))
    }

    /// Values of a measure for the numbered plots of the trial, in the order of `plots`.
    pub(crate) fn column(&self, measure: usize, plots: &[u32]) -> Vec<Option<f64>> {
        plots.iter().map(|&plot| self.value(plot, measure)).collect()
    }

    /// True when the trial's primary measure, or the harvest behind it, has values.
    pub(crate) fn has_primary(&self, trial: &Dossier) -> bool {
        use crate::plan::harvest_key::{MASS, YIELD};
        let Some(key) = trial.plan.primary_measure() else { return false };
        let key = if key == YIELD && trial.plan.harvest.is_some() { MASS } else { key.as_str() };
        trial.measures.iter().position(|measure| measure.key == key).is_some_and(|at| self.has_values(at))
    }
}
