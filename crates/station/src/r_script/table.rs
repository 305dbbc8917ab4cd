//! The table of plots that the script reads.

use guardrow_design::Treatment;
use guardrow_inference::Experiment;

use super::names::{Columns, Role, one_line};
use super::{Measured, Trial};

/// A row per plot: its number, its units, its treatment with the level of every factor, its measures.
pub(super) fn plots(trial: &Trial<'_>, columns: &Columns, measured: &[Measured]) -> Vec<u8> {
    let experiment = &trial.experiment;
    let treatments = experiment.treatments.treatments();
    let head = heads(experiment, columns, measured);
    let row = |plot: usize| {
        let treatment = &treatments[experiment.treatment[plot]];
        let units = experiment.units.iter().map(|(_, column)| column[plot].to_string());
        let levels = (0..experiment.treatments.factors.len()).map(|factor| level(experiment, treatment, factor));
        let values = measured.iter().map(|it| it.values[plot].map(|value| value.to_string()).unwrap_or_default());
        let mut row = vec![trial.plots[plot].to_string()];
        row.extend(units);
        row.push(one_line(&treatment.label));
        row.extend(levels);
        row.extend(values);
        row
    };
    csv(std::iter::once(head).chain((0..trial.plots.len()).map(row)))
}

fn heads(experiment: &Experiment, columns: &Columns, measured: &[Measured]) -> Vec<String> {
    let of = |role: Role, name: &str| columns.of(role, name).unwrap_or_default().to_owned();
    let mut head = vec!["plot_number".to_owned()];
    head.extend(experiment.units.iter().map(|(unit, _)| of(Role::Unit, unit)));
    head.push("treatment".to_owned());
    head.extend(experiment.treatments.factors.iter().map(|factor| of(Role::Factor, &factor.name)));
    head.extend(measured.iter().map(|it| of(Role::Measure, &it.key)));
    head
}

/// The level of a factor; nothing for a control, which has none.
fn level(experiment: &Experiment, treatment: &Treatment, factor: usize) -> String {
    let level = treatment.levels.get(factor).map(|&level| &experiment.treatments.factors[factor].levels[level]);
    level.map(|level| one_line(&level.label)).unwrap_or_default()
}

/// Rows as RFC 4180 has them.
pub(super) fn csv<R: AsRef<[String]>>(rows: impl Iterator<Item = R>) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    for row in rows {
        writer.write_record(row.as_ref()).expect("rows of one table are equally long, and memory takes them");
    }
    writer.into_inner().expect("writing to memory does not fail")
}
