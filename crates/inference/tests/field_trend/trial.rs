//! Experiments made from a case's table, and an invented one.

use crate::case::Case;
use guardrow_design::{BlockStructure, Factor, Level, RandomStream, Scale, Seed, TreatmentStructure};
use guardrow_inference::distribution::normal_quantile;
use guardrow_inference::{ErrorModel, Experiment, FieldPositions, FieldTrend, Options, field_trend};

pub fn unit(name: &str) -> BlockStructure {
    BlockStructure::unit(name)
}

pub fn treatments(name: &str, labels: &[String]) -> TreatmentStructure {
    let levels = labels.iter().map(|label| Level { label: label.clone(), amount: None }).collect();
    let factor = Factor { name: name.into(), scale: Scale::Qualitative, levels };
    TreatmentStructure { factors: vec![factor], controls: Vec::new() }
}

/// Varieties of a case's table on units that are labelled by columns of it.
pub fn varieties(case: &Case, blocks: BlockStructure, units: &[(&str, &[&str])]) -> Experiment {
    let (labels, treatment) = case.classes(&["variety"]);
    let units = units.iter().map(|(unit, columns)| ((*unit).to_owned(), case.classes(columns).1)).collect();
    let response = case.values("yield");
    Experiment::new(blocks, units, treatments("variety", &labels), treatment, response)
}

/// The columns `row` and `column` of a case's table.
pub fn places(case: &Case) -> FieldPositions {
    let whole = |column: &str| case.numbers(column).into_iter().map(|it| it as usize).collect();
    FieldPositions::new(whole("row"), whole("column"))
}

pub fn run(experiment: &Experiment, places: &FieldPositions) -> FieldTrend {
    field_trend(experiment, places, &Options::default()).expect("the field can be analysed")
}

pub fn model<'a>(result: &'a FieldTrend, name: &str) -> &'a ErrorModel {
    result.models.models.iter().find(|it| it.name == name).expect("the model was tried")
}

/// Eight treatments in blocks of two ranges on a field of 8 ranges by 4 passes whose fertility wanders from plot to plot.
pub fn invented(seed: u64, along: f64) -> (Experiment, FieldPositions) {
    let mut stream = RandomStream::new(&Seed::from_number(seed));
    let mut normal = || normal_quantile((f64::from(stream.below(1 << 30)) + 0.5) / f64::from(1 << 30));
    let mut walked: Vec<f64> = Vec::new();
    for plot in 0..32 {
        let before = if plot < 4 { normal() } else { walked[plot - 4] };
        walked.push(along * before + (1.0 - along * along).sqrt() * normal());
    }
    let plots: Vec<(usize, usize)> = (0..32).map(|plot| (plot / 4, plot % 4)).collect();
    let treatment: Vec<usize> = (0..32).map(|plot| (plot * 5 + 3 * (plot / 8)) % 8).collect();
    let response =
        walked.iter().zip(&treatment).map(|(ground, &it)| Some(50.0 + it as f64 * 0.3 + 2.0 * ground + normal()));
    let labels: Vec<String> = (1..=8).map(|it| format!("t{it}")).collect();
    let blocks = plots.iter().map(|it| it.0 / 2).collect();
    let experiment = Experiment::new(
        unit("block").nest(unit("plot")),
        vec![("block".into(), blocks)],
        treatments("entry", &labels),
        treatment.clone(),
        response.collect(),
    );
    let places =
        FieldPositions::new(plots.iter().map(|it| it.0 + 1).collect(), plots.iter().map(|it| it.1 + 1).collect());
    (experiment, places)
}
