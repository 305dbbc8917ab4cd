//! Trials from tables with columns of numbers.

use crate::golden::Golden;
use guardrow_design::{BlockStructure, Factor, Level, Scale, TreatmentStructure};
use guardrow_inference::{Analysis, Experiment, Options, analyse};

/// A quantitative factor with the amounts of a column, ascending.
pub fn amounts(name: &str, column: &[f64]) -> Factor {
    let mut different = column.to_vec();
    different.sort_by(f64::total_cmp);
    different.dedup();
    let level = |amount: f64| Level { label: amount.to_string(), amount: Some(amount) };
    let levels = different.into_iter().map(level).collect();
    Factor { name: name.into(), scale: Scale::Quantitative { unit: "kg/ha".into() }, levels }
}

/// A qualitative factor with the labels of a column, in order of appearance.
pub fn names(name: &str, column: &[String]) -> Factor {
    let mut different: Vec<&String> = Vec::new();
    column.iter().for_each(|label| {
        if !different.contains(&label) {
            different.push(label);
        }
    });
    let levels = different.into_iter().map(|label| Level { label: label.clone(), amount: None }).collect();
    Factor { name: name.into(), scale: Scale::Qualitative, levels }
}

pub fn level_of(factor: &Factor, label: &str) -> usize {
    factor.levels.iter().position(|level| level.label == label).expect("levels were read from these rows")
}

fn unit(name: &str) -> BlockStructure {
    BlockStructure::unit(name)
}

/// Randomised blocks (or, without blocks, a completely random trial) of one quantitative factor.
pub fn blocks(block: &[usize], amount: &[f64], response: &[f64]) -> Experiment {
    let factor = amounts("rate", amount);
    let treatment = amount.iter().map(|amount| level_of(&factor, &amount.to_string())).collect();
    let is_random = block.is_empty();
    let (ground, units) = match is_random {
        true => (unit("plot"), Vec::new()),
        false => (unit("block").nest(unit("plot")), vec![("block".into(), block.to_vec())]),
    };
    let treatments = TreatmentStructure { factors: vec![factor], controls: Vec::new() };
    Experiment::new(ground, units, treatments, treatment, response.iter().map(|&value| Some(value)).collect())
}

/// A split-plot of a name on main plots and an amount within.
pub fn split_plot(block: &[usize], variety: &[String], rate: &[f64], response: &[f64]) -> Experiment {
    let factors = vec![names("variety", variety), amounts("rate", rate)];
    let rates = factors[1].levels.len();
    let of_row = |row: usize| (level_of(&factors[0], &variety[row]), level_of(&factors[1], &rate[row].to_string()));
    let rows: Vec<(usize, usize)> = (0..response.len()).map(of_row).collect();
    let units = vec![("block".into(), block.to_vec()), ("main plot".into(), rows.iter().map(|row| row.0).collect())];
    let ground = unit("block").nest(unit("main plot").nest(unit("plot")));
    let treatments = TreatmentStructure { factors, controls: Vec::new() };
    let treatment = rows.iter().map(|row| row.0 * rates + row.1).collect();
    Experiment::new(ground, units, treatments, treatment, response.iter().map(|&value| Some(value)).collect())
}

pub fn analysed(experiment: &Experiment) -> Analysis {
    analyse(experiment, &Options::default()).expect("the trial can be analysed")
}

/// The column of a golden table without gaps.
pub fn full(case: &Golden, name: &str) -> Vec<f64> {
    case.column(name).into_iter().map(|value| value.expect("the column has no gaps")).collect()
}

/// The column as labels numbered from 0.
pub fn numbered(case: &Golden, name: &str) -> Vec<usize> {
    let labels: Vec<String> = case.rows.iter().map(|row| row[name].clone()).collect();
    let factor = names(name, &labels);
    labels.iter().map(|label| level_of(&factor, label)).collect()
}
