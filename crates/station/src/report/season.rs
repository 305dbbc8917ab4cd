//! What happened on the ground: notes, operations, deviations and the harvest.

use guardrow_publish::report::{Column, Harvest, Row, Season, Table};

use super::numbers::Decimals;
use crate::dossier::Dossier;
use crate::harvest::harvest_view;
use crate::observation::Observed;
use crate::plan::harvest_key;
use crate::{SeasonNote, StationError};

/// The season as the report tells it.
pub(crate) fn season(notes: &[SeasonNote]) -> Season {
    let told = notes.iter().filter(|note| matches!(note.kind.as_str(), "weather" | "note"));
    let operations: Vec<&SeasonNote> = notes.iter().filter(|note| note.kind == "operation").collect();
    let deviations: Vec<&SeasonNote> =
        notes.iter().filter(|note| matches!(note.kind.as_str(), "deviation" | "incident")).collect();
    Season {
        notes: told.map(|note| format!("{}: {}", note.on, note.text)).collect(),
        operations: (!operations.is_empty()).then(|| table("Operations", &operations)),
        deviations: (!deviations.is_empty()).then(|| table("What went otherwise than planned", &deviations)),
    }
}

fn table(caption: &str, notes: &[&SeasonNote]) -> Table {
    let mut table = Table::new(caption, vec![Column::left("Day"), Column::left("What"), Column::left("Plots")]);
    for note in notes {
        let plots: Vec<String> = note.plots.iter().map(u32::to_string).collect();
        let plots = if plots.is_empty() { "all".to_owned() } else { plots.join(", ") };
        table.push(Row::plain([note.on.to_string(), note.text.clone(), plots]));
    }
    table
}

/// Harvest figures, raw and standardised side by side.
pub(crate) fn harvest(trial: &Dossier, observed: &Observed) -> Result<Option<Harvest>, StationError> {
    if trial.plan.harvest.is_none() {
        return Ok(None);
    }
    let view = harvest_view(trial, observed)?;
    if view.lines.iter().all(|line| line.raw.is_none()) {
        return Ok(None);
    }
    let unit = view.unit.symbol();
    let columns = vec![
        Column::right("Plot"),
        Column::left("Treatment"),
        Column::right("Mass").with_unit("kg"),
        Column::right("Moisture").with_unit("%"),
        Column::right("Length").with_unit("m"),
        Column::right("Width").with_unit("m"),
        Column::right("As harvested").with_unit(unit),
        Column::right("Standardised").with_unit(unit),
    ];
    let mut table = Table::new("Harvest by plot", columns);
    let decimals = Decimals::earned(None, view.unit);
    for line in &view.lines {
        let cell = |key: &str| {
            let index = trial.measures.iter().position(|measure| measure.key == key);
            let entries = index.map_or(&[][..], |index| observed.at(line.plot, index));
            entries.iter().map(|entry| entry.text.clone()).collect::<Vec<_>>().join(" / ")
        };
        let shown = |value: Option<f64>| value.map(|value| decimals.value(value)).unwrap_or_default();
        table.push(Row::plain([
            line.plot.to_string(),
            line.treatment.clone(),
            cell(harvest_key::MASS),
            cell(harvest_key::MOISTURE),
            cell(harvest_key::LENGTH),
            cell(harvest_key::WIDTH),
            shown(line.raw),
            shown(line.standard),
        ]));
        if !line.why_not.is_empty() {
            table.notes.push(format!("Plot {}: {}.", line.plot, line.why_not));
        }
    }
    Ok(Some(Harvest {
        sentence: format!(
            "Yield is mass over measured area, brought to {} % moisture (wet basis) by the dry matter: mass × (100 − moisture) / (100 − {}).",
            view.standard_moisture_pct, view.standard_moisture_pct
        ),
        table,
    }))
}
