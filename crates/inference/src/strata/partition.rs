//! Each stratum as a division of the plots into units.

use crate::plots::Plots;
use crate::{Experiment, InferenceError, Notice};
use std::collections::HashMap;

/// The units of one stratum.
#[derive(Debug, Clone)]
pub(crate) struct Partition {
    /// Name for people.
    pub name: String,
    /// Names of the units that together label one unit of this stratum.
    units: Vec<String>,
    /// The unit of each used plot.
    pub class: Vec<usize>,
    /// Number of units with at least one used plot.
    pub classes: usize,
}

impl Partition {
    /// Whether each unit of `self` is made of whole units of `finer`.
    pub fn is_coarser_than(&self, finer: &Self) -> bool {
        self.units.len() < finer.units.len() && self.units.iter().all(|unit| finer.units.contains(unit))
    }

    /// Plots per unit, when all units have the same number.
    pub fn uniform_size(&self) -> Option<f64> {
        let sizes = self.sizes();
        sizes.iter().all(|size| *size == sizes[0]).then(|| sizes[0])
    }

    /// Plots in each unit.
    pub fn sizes(&self) -> Vec<f64> {
        let mut sizes = vec![0.0; self.classes];
        self.class.iter().for_each(|&class| sizes[class] += 1.0);
        sizes
    }

    /// Sum of the values in each unit.
    pub fn sums(&self, values: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; self.classes];
        self.class.iter().zip(values).for_each(|(&class, value)| sums[class] += value);
        sums
    }

    /// The unit of a plot that is not among those used: that of a used plot with the same labels.
    pub fn class_of(&self, experiment: &Experiment, plot: usize, used: &[usize]) -> Option<usize> {
        let columns: Option<Vec<&[usize]>> = self.units.iter().map(|unit| labels(experiment, unit)).collect();
        let columns = columns?;
        let same = |other: usize| columns.iter().all(|column| column[plot] == column[other]);
        used.iter().position(|&other| same(other)).map(|position| self.class[position])
    }

    /// Every value replaced by the mean of its unit.
    pub fn averaged(&self, values: &[f64]) -> Vec<f64> {
        let means: Vec<f64> = self.sums(values).iter().zip(self.sizes()).map(|(sum, size)| sum / size).collect();
        self.class.iter().map(|&class| means[class]).collect()
    }
}

/// The divisions of the used plots, outer strata first, the plots themselves last; what was left out comes as notices.
pub(crate) fn partitions(
    experiment: &Experiment,
    plots: &Plots,
) -> Result<(Vec<Partition>, Vec<Notice>), InferenceError> {
    check_units(experiment)?;
    let strata = experiment.blocks.strata();
    let mut found = Vec::new();
    for stratum in &strata {
        let (class, classes) = classes(experiment, &stratum.units, &plots.index);
        found.push(Partition { name: stratum.name.clone(), units: stratum.units.clone(), class, classes });
    }
    let innermost = found.last().ok_or_else(|| InferenceError::UnitNotGiven { unit: "plot".into() })?;
    check_innermost(innermost, plots)?;
    let mut notices = lost_units(experiment, &strata, plots);
    notices.extend(leave_out_empty_strata(&mut found));
    Ok((found, notices))
}

fn check_units(experiment: &Experiment) -> Result<(), InferenceError> {
    let names = experiment.blocks.units();
    for (position, (unit, _)) in experiment.units.iter().enumerate() {
        let repeated = experiment.units[..position].iter().any(|(earlier, _)| earlier == unit);
        if repeated || !names.contains(unit) {
            return Err(InferenceError::UnknownUnit { unit: unit.clone() });
        }
    }
    let strata = experiment.blocks.strata();
    let outer = &strata[..strata.len().saturating_sub(1)];
    let needed = names.iter().filter(|name| outer.iter().any(|stratum| stratum.units.contains(name)));
    match needed.into_iter().find(|name| labels(experiment, name).is_none()) {
        Some(unit) => Err(InferenceError::UnitNotGiven { unit: unit.clone() }),
        None => Ok(()),
    }
}

fn labels<'a>(experiment: &'a Experiment, unit: &str) -> Option<&'a [usize]> {
    experiment.units.iter().find(|(name, _)| name == unit).map(|(_, labels)| labels.as_slice())
}

/// Numbers the units, in the order in which they are met. Without labels for its innermost unit each plot is its own.
fn classes(experiment: &Experiment, units: &[String], plots: &[usize]) -> (Vec<usize>, usize) {
    let columns: Vec<Option<&[usize]>> = units.iter().map(|unit| labels(experiment, unit)).collect();
    if columns.iter().any(Option::is_none) {
        return ((0..plots.len()).collect(), plots.len());
    }
    let mut seen: HashMap<Vec<usize>, usize> = HashMap::new();
    let mut number = |plot: usize| {
        let label = columns.iter().flatten().map(|column| column[plot]).collect();
        let next = seen.len();
        *seen.entry(label).or_insert(next)
    };
    let class: Vec<usize> = plots.iter().map(|&plot| number(plot)).collect();
    (class, seen.len())
}

fn check_innermost(innermost: &Partition, plots: &Plots) -> Result<(), InferenceError> {
    let mut holder = vec![None; innermost.classes];
    for (position, &class) in innermost.class.iter().enumerate() {
        if let Some(first) = holder[class].replace(plots.index[position]) {
            let (second, stratum) = (plots.index[position], innermost.name.clone());
            return Err(InferenceError::PlotsShareUnit { first, second, stratum });
        }
    }
    Ok(())
}

fn lost_units(experiment: &Experiment, strata: &[guardrow_design::Stratum], plots: &Plots) -> Vec<Notice> {
    let all: Vec<usize> = (0..experiment.response.len()).collect();
    let outer = &strata[..strata.len() - 1];
    let lost = outer.iter().filter_map(|stratum| {
        let units = classes(experiment, &stratum.units, &all).1 - classes(experiment, &stratum.units, &plots.index).1;
        (units > 0).then(|| Notice::UnitLost { stratum: stratum.name.clone(), units })
    });
    lost.collect()
}

/// Leaves out strata that compare nothing: one unit only, or the same units as a stratum further out or the plots.
fn leave_out_empty_strata(found: &mut Vec<Partition>) -> Vec<Notice> {
    let mut notices = Vec::new();
    let mut position = 0;
    while position + 1 < found.len() {
        let partition = &found[position];
        let plots = partition.class.len();
        let coarser = found[..position].iter().filter(|other| other.is_coarser_than(partition));
        let same = partition.classes == plots || coarser.into_iter().any(|other| other.classes == partition.classes);
        if partition.classes == 1 {
            notices.push(Notice::OneUnit { stratum: partition.name.clone() });
            found.remove(position);
        } else if same {
            notices.push(Notice::SameUnits { stratum: partition.name.clone() });
            found.remove(position);
        } else {
            position += 1;
        }
    }
    notices
}
