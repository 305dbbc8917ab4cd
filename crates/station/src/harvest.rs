//! From harvested mass, moisture and measured area to yield, as harvested and at standard moisture.

use guardrow_agronomy::amount::{PlotLength, PlotWidth};
use guardrow_agronomy::harvest::{Harvest, HarvestYield, Moisture, PlotMass, StandardMoisture};
use guardrow_agronomy::unit::{Quantity, Unit};

use crate::dossier::Dossier;
use crate::error::ErrorKind;
use crate::experiment::plot_numbers;
use crate::observation::Observed;
use crate::plan::harvest_key;
use crate::{HarvestLine, HarvestPlan, HarvestView, Station, StationError};

impl Station {
    /// Yields of all plots, raw and standardised side by side.
    ///
    /// # Errors
    /// [`ErrorKind::Refused`] when the plan has no harvest.
    pub fn harvest(&self, code: &str) -> Result<HarvestView, StationError> {
        let trial = self.dossier(code)?;
        let observed = self.observed(&trial, None)?;
        harvest_view(&trial, &observed)
    }
}

/// Yields of all plots in number order.
pub(crate) fn harvest_view(trial: &Dossier, observed: &Observed) -> Result<HarvestView, StationError> {
    let (harvest, standard) = planned(trial)?;
    let laid = trial.laid()?;
    let lines = plot_numbers(laid)
        .into_iter()
        .map(|plot| {
            let treatment = trial.treatment_of_plot(plot).map(|index| trial.treatment_labels()[index].clone());
            let (raw, standard, why_not) = match plot_yield(trial, observed, plot, standard) {
                Ok(found) => {
                    let shown = |kg_ha: f64| shown_in(trial, harvest, kg_ha);
                    let why_not = if found.standard_kg_ha.is_none() { "no moisture was taken" } else { "" };
                    (shown(found.raw_kg_ha), found.standard_kg_ha.and_then(shown), why_not.to_owned())
                }
                Err(why_not) => (None, None, why_not),
            };
            HarvestLine { plot, treatment: treatment.unwrap_or_default(), raw, standard, why_not }
        })
        .collect();
    Ok(HarvestView { unit: harvest.yield_unit, standard_moisture_pct: standard.in_percent(), lines })
}

fn planned(trial: &Dossier) -> Result<(&HarvestPlan, StandardMoisture), StationError> {
    let refuse = |what: String, try_this: &str| StationError::new(ErrorKind::Refused, what, "harvest", try_this);
    let harvest = trial.plan.harvest.as_ref().ok_or_else(|| {
        refuse(
            format!("no harvest is planned for trial {}", trial.code()),
            "plan it, with the unit that yields are shown in",
        )
    })?;
    let percent = trial
        .plan
        .standard_moisture_pct()
        .ok_or_else(|| refuse("no standard moisture is known for this crop".to_owned(), "write it into the plan"))?;
    let standard = StandardMoisture::percent(percent).map_err(|error| refuse(error.to_string(), &error.help()))?;
    Ok((harvest, standard))
}

/// The yield of one plot, or why there is none.
fn plot_yield(
    trial: &Dossier,
    observed: &Observed,
    plot: u32,
    standard: StandardMoisture,
) -> Result<HarvestYield, String> {
    let cell = |key: &str| {
        let index = trial.measures.iter().position(|measure| measure.key == key);
        index.ok_or_else(|| format!("{key} is not measured")).map(|index| (index, observed.value(plot, index)))
    };
    let needed = |key: &str, name: &str| {
        let (index, value) = cell(key)?;
        value.ok_or_else(|| {
            let entries = observed.at(plot, index);
            match entries {
                [] => format!("no {name} yet"),
                [entry] => format!("{name}: {}", entry.text),
                _ => format!("{name}: two values disagree"),
            }
        })
    };
    let words = |error: guardrow_agronomy::limits::Refused| error.to_string();
    let harvest = Harvest {
        mass: PlotMass::kilograms(needed(harvest_key::MASS, "harvested mass")?).map_err(words)?,
        moisture: cell(harvest_key::MOISTURE)?.1.map(Moisture::percent).transpose().map_err(words)?,
        length: PlotLength::metres(needed(harvest_key::LENGTH, "harvested length")?).map_err(words)?,
        width: PlotWidth::metres(needed(harvest_key::WIDTH, "harvested width")?).map_err(words)?,
        standard: Some(standard),
    };
    Ok(match trial.crop() {
        Some(crop) => harvest.yields_of(crop),
        None => harvest.yields(),
    })
}

fn shown_in(trial: &Dossier, harvest: &HarvestPlan, kg_ha: f64) -> Option<f64> {
    let quantity = Quantity { value: kg_ha, unit: Unit::KgPerHa };
    match trial.crop() {
        Some(crop) => quantity.to_for_crop(harvest.yield_unit, crop).ok(),
        None => quantity.to(harvest.yield_unit).ok(),
    }
}

/// Values of any measure that can be analysed, observed or derived, in the order of [`plot_numbers`].
pub(crate) fn response(trial: &Dossier, observed: &Observed, key: &str) -> Result<Vec<Option<f64>>, StationError> {
    let laid = trial.laid()?;
    if trial.plan.harvest.is_some() && key == harvest_key::YIELD {
        return Ok(harvest_view(trial, observed)?.lines.into_iter().map(|line| line.standard).collect());
    }
    Ok(observed.column(trial.measure(key)?, &plot_numbers(laid)))
}
