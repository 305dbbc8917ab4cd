//! Where the plots stand.

use crate::plots::Plots;
use crate::{Experiment, InferenceError};
use std::collections::HashMap;

/// The place of every plot of an experiment on its field, as the layout numbers them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldPositions {
    /// For each plot its range: the tier of plots from the front.
    pub range: Vec<usize>,
    /// For each plot its pass: the trip of the seeder from the left.
    pub pass: Vec<usize>,
}

/// The places of the plots with a value.
pub(super) struct Places {
    pub ranges: Line,
    pub passes: Line,
    /// Whether some place has several observations (samples of one plot).
    pub is_sampled: bool,
}

/// One direction on the field.
pub(super) struct Line {
    pub name: &'static str,
    pub plural: &'static str,
    pub position: Vec<usize>,
    /// Number of different positions.
    pub count: usize,
}

impl FieldPositions {
    /// Of the plots of one field: the arguments are the fields of the same names.
    pub fn new(range: Vec<usize>, pass: Vec<usize>) -> Self {
        Self { range, pass }
    }

    /// The places of the used plots.
    ///
    /// # Errors
    /// [`InferenceError::Length`]; [`InferenceError::SeveralFields`]; [`InferenceError::PlotsShareUnit`] when plots that are not
    /// samples of one unit stand on the same place.
    pub(super) fn of_used(&self, experiment: &Experiment, plots: &Plots) -> Result<Places, InferenceError> {
        let expected = experiment.response.len();
        for (list, positions) in [("the column of ranges", &self.range), ("the column of passes", &self.pass)] {
            if positions.len() != expected {
                return Err(InferenceError::Length { list: list.into(), found: positions.len(), expected });
            }
        }
        if let Some(place) = plots.environments.first() {
            return Err(InferenceError::SeveralFields { unit: place.name.clone() });
        }
        let is_sampled = self.check_places(experiment, plots)?;
        let line = |name: &'static str, plural: &'static str, all: &[usize]| {
            let position: Vec<usize> = plots.index.iter().map(|&plot| all[plot]).collect();
            let mut distinct = position.clone();
            distinct.sort_unstable();
            distinct.dedup();
            Line { name, plural, position, count: distinct.len() }
        };
        Ok(Places {
            ranges: line("range", "ranges", &self.range),
            passes: line("pass", "passes", &self.pass),
            is_sampled,
        })
    }

    /// Whether places hold several samples of one plot.
    fn check_places(&self, experiment: &Experiment, plots: &Plots) -> Result<bool, InferenceError> {
        let mut first_at = HashMap::new();
        let mut is_sampled = false;
        for &second in &plots.index {
            let first = *first_at.entry((self.range[second], self.pass[second])).or_insert(second);
            if first == second {
                continue;
            }
            let is_same = |(_, unit): &(String, Vec<usize>)| unit[first] == unit[second];
            // samples of one plot agree in all units but the innermost
            let innermost = experiment.blocks.units().pop().unwrap_or_default();
            if !experiment.units.iter().filter(|(name, _)| *name != innermost).all(is_same)
                || experiment.treatment[first] != experiment.treatment[second]
            {
                let stratum = format!("range {}, pass {}", self.range[second], self.pass[second]);
                return Err(InferenceError::PlotsShareUnit { first, second, stratum });
            }
            is_sampled = true;
        }
        Ok(is_sampled)
    }
}
