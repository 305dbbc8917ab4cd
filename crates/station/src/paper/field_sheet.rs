//! The field sheet of one event.

use guardrow_agronomy::unit::{Dimension, Unit};
use guardrow_publish::field_sheet::{Entry, FieldSheet, ScaleStep, SheetMeasure, SheetPlot};

use crate::dossier::Dossier;
use crate::error::ErrorKind;
use crate::{Measure, StationError};

/// Most steps of a score that are offered as a list; a longer one is typed.
const MOST_STEPS: f64 = 20.0;

/// Builds the sheet of an event in walking order.
///
/// # Errors
/// [`ErrorKind::NotThere`] for an event that the plan does not name.
pub(crate) fn field_sheet(
    trial: &Dossier,
    event: &str,
    blind: bool,
    station: &str,
    today: &str,
) -> Result<FieldSheet, StationError> {
    let laid = trial.laid()?;
    let measures = trial.measures_of(event);
    if measures.is_empty() {
        return Err(StationError::new(
            ErrorKind::NotThere,
            format!("trial {} has no event “{event}”", trial.code()),
            "field event",
            format!("name one of {}", trial.events().join(", ")),
        ));
    }
    let head = &trial.plan.trial;
    let plots: Vec<SheetPlot> = laid
        .walk()
        .filter_map(|plot| {
            Some(SheetPlot {
                plot: plot.number?,
                range: plot.range as u32,
                pass: plot.pass as u32,
                replicate: plot.replicate.unwrap_or(1) as u32,
                treatment: plot.treatment.filter(|_| !blind).map(|index| trial.treatment_labels()[index].clone()),
            })
        })
        .collect();
    Ok(FieldSheet {
        trial_code: head.code.clone(),
        title: head.title.clone(),
        station: station.to_owned(),
        site: head.site.clone(),
        season: head.season.to_string(),
        layout_version: laid.line.version,
        event: event.to_owned(),
        due: String::new(),
        sheet_id: sheet_id(trial, laid.line.version, event),
        prepared_on: today.to_owned(),
        measures: measures.iter().map(|&index| sheet_measure(&trial.measures[index])).collect(),
        walk: match (plots.first(), plots.last()) {
            (Some(first), Some(last)) => {
                format!(
                    "Start at plot {}, turn at the end of each range, and finish at plot {}.",
                    first.plot, last.plot
                )
            }
            _ => String::new(),
        },
        plots,
        instructions: measures
            .iter()
            .map(|&index| &trial.measures[index])
            .filter(|measure| !measure.method.is_empty())
            .map(|measure| format!("{}: {}", measure.name, measure.method))
            .collect(),
    })
}

/// Names a sheet: trial, layout version and the number of the event in the plan.
pub(crate) fn sheet_id(trial: &Dossier, layout_version: u32, event: &str) -> String {
    let place = trial.events().iter().position(|known| *known == event).map_or(0, |index| index + 1);
    format!("{}-L{layout_version}-E{place}", trial.code().to_uppercase().replace('_', "-"))
}

fn sheet_measure(measure: &Measure) -> SheetMeasure {
    SheetMeasure {
        key: measure.key.clone(),
        name: measure.name.clone(),
        unit: measure.unit.symbol().to_owned(),
        how: measure.method.clone(),
        entry: entry(measure),
    }
}

fn entry(measure: &Measure) -> Entry {
    let whole = matches!(measure.unit.dimension(), Dimension::Count);
    match (measure.range, &measure.anchors) {
        (Some((low, high)), Some((low_means, high_means))) if high - low < MOST_STEPS && low.fract() == 0.0 => {
            let steps = (low as i64..=high as i64).map(|step| ScaleStep {
                code: step.to_string(),
                meaning: match step as f64 {
                    step if step == low => low_means.clone(),
                    step if step == high => high_means.clone(),
                    _ => String::new(),
                },
            });
            Entry::Scale { steps: steps.collect() }
        }
        (Some((low, high)), _) => Entry::Number { least: Some(low), most: Some(high), whole },
        (None, _) => {
            let least = (!matches!(measure.unit, Unit::DegC | Unit::DegF)).then_some(0.0);
            let most = (measure.unit == Unit::Percent).then_some(100.0);
            Entry::Number { least, most, whole }
        }
    }
}
