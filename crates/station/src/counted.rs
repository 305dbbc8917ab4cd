//! The values of a measure as they were observed, with what they are counted against.

use guardrow_agronomy::unit::{Dimension, Quantity, Unit};
use guardrow_inference::{DiscreteKind, plain_values};

use crate::dossier::Dossier;
use crate::harvest::response;
use crate::observation::Observed;
use crate::{StationError, ValueKind, Whole};

/// The values of one measure on all plots.
pub(crate) struct Raw {
    /// As observed.
    pub values: Vec<Option<f64>>,
    /// What they are, when they are no measurements.
    pub kind: Option<DiscreteKind>,
}

impl Raw {
    /// The values in the unit in which the measure is told.
    pub(crate) fn plain(&self) -> Vec<Option<f64>> {
        match &self.kind {
            Some(kind) => plain_values(kind, &self.values),
            None => self.values.clone(),
        }
    }
}

/// The values of a measure in the order of [`crate::experiment::plot_numbers`].
///
/// # Errors
/// As [`response`].
pub(crate) fn raw(trial: &Dossier, observed: &Observed, key: &str) -> Result<Raw, StationError> {
    let values = response(trial, observed, key)?;
    let measure = trial.plan.measures.iter().find(|measure| measure.key == key);
    let kind = match measure.map(|measure| &measure.values) {
        None | Some(ValueKind::Measured) => None,
        Some(ValueKind::Counted { searched, spread }) => {
            let searched = searched.as_ref().map(|key| searched_on_plots(trial, observed, key)).transpose()?;
            Some(DiscreteKind::Counts { searched, spread: *spread })
        }
        Some(ValueKind::Scored { link }) => Some(DiscreteKind::Scores { link: *link }),
        Some(ValueKind::Share { of, link }) => {
            let of = match of {
                Whole::Number(number) => vec![Some(f64::from(*number)); values.len()],
                Whole::Measure(key) => response(trial, observed, key)?,
            };
            Some(DiscreteKind::Shares { of, link: *link })
        }
    };
    Ok(Raw { values, kind })
}

/// What was searched on each plot, in square metres or metres.
fn searched_on_plots(trial: &Dossier, observed: &Observed, key: &str) -> Result<Vec<Option<f64>>, StationError> {
    let values = response(trial, observed, key)?;
    let unit = trial.measures[trial.measure(key)?].unit;
    let into = match unit.dimension() {
        Dimension::Area => Unit::SquareMetre,
        Dimension::Length => Unit::Metre,
        _ => unit,
    };
    let converted = |value: f64| Quantity { value, unit }.to(into).ok();
    Ok(values.into_iter().map(|value| value.and_then(converted)).collect())
}
