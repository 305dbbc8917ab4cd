//! The invented trial of `tests/reference/repeated-measures`, plots once each with a list of visits.

use crate::case::Case;
use guardrow_design::{BlockStructure, Factor, Level, Scale, TreatmentStructure};
use guardrow_inference::{ErrorModel, Experiment, Occasions, Options, Repeated, Visit, repeated};

pub fn unit(name: &str) -> BlockStructure {
    BlockStructure::unit(name)
}

/// Twenty plots in five blocks and five visits, without effects of blocks on single visits, as the golden models are.
pub fn read(case: &Case) -> (Experiment, Occasions) {
    let whole = |column: &str| case.numbers(column).into_iter().map(|it| it as usize).collect::<Vec<_>>();
    let (labels, treatment) = case.classes(&["treatment"]);
    let (block, plot, occasion) = (whole("block"), whole("plot"), whole("occasion"));
    let rows = 0..plot.len();
    let plots = 20;
    let of_plot = |column: &[usize], at: usize| column[rows.clone().find(|&row| plot[row] == at + 1).expect("a plot")];
    let levels = labels.into_iter().map(|label| Level { label, amount: None }).collect();
    let factor = Factor { name: "treatment".into(), scale: Scale::Qualitative, levels };
    let experiment = Experiment::new(
        unit("block").nest(unit("plot")),
        vec![("block".into(), (0..plots).map(|at| of_plot(&block, at)).collect())],
        TreatmentStructure { factors: vec![factor], controls: Vec::new() },
        (0..plots).map(|at| of_plot(&treatment, at)).collect(),
        vec![None; plots],
    );
    let (values, days) = (case.numbers("y"), case.numbers("day"));
    let visit = |number: usize| {
        let row_of = |at: usize| rows.clone().find(|&row| plot[row] == at + 1 && occasion[row] == number);
        Visit {
            label: format!("visit {number}"),
            day: rows.clone().find(|&row| occasion[row] == number).map(|row| days[row]),
            response: (0..plots).map(|at| row_of(at).map(|row| values[row])).collect(),
        }
    };
    (experiment, Occasions { visits: (1..=5).map(visit).collect(), units_by_occasion: false })
}

/// The same visits as if they were equally far apart.
pub fn without_days(mut occasions: Occasions) -> Occasions {
    occasions.visits.iter_mut().for_each(|visit| visit.day = None);
    occasions
}

pub fn run(experiment: &Experiment, occasions: &Occasions) -> Repeated {
    repeated(experiment, occasions, &Options::default()).expect("the season can be analysed")
}

pub fn model<'a>(result: &'a Repeated, name: &str) -> &'a ErrorModel {
    result.models.models.iter().find(|it| it.name == name).expect("the model was tried")
}
