//! What happened on the ground: notes, operations, deviations and the harvest.

use guardrow_agronomy::rounding::shown;
use guardrow_publish::report::{Column, Harvest, Row, Season, Table};

use super::numbers::Decimals;
use crate::dossier::Dossier;
use crate::harvest::harvest_view;
use crate::observation::Observed;
use crate::plan::harvest_key;
use crate::{HarvestLine, HarvestView, SeasonNote, StationError};

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
    let table = by_treatment(trial, observed, &view);
    Ok(Some(Harvest {
        sentence: format!(
            "Yield is mass over measured area, brought to {} % moisture (wet basis) by the dry matter: mass × (100 − moisture) / (100 − {}).",
            view.standard_moisture_pct, view.standard_moisture_pct
        ),
        table,
    }))
}

/// Means by treatment; plot by plot they stand on the harvest page and in the data package.
fn by_treatment(trial: &Dossier, observed: &Observed, view: &HarvestView) -> Table {
    let unit = view.unit.symbol();
    let columns = vec![
        Column::left("Treatment"),
        Column::right("Plots"),
        Column::right("Mass").with_unit("kg"),
        Column::right("Moisture").with_unit("%"),
        Column::right("Area").with_unit("m2"),
        Column::right("As harvested").with_unit(unit),
        Column::right("Standardised").with_unit(unit),
    ];
    let mut table = Table::new("Harvest: means by treatment", columns);
    let decimals = Decimals::earned(None, view.unit);
    for label in trial.treatment_labels() {
        let lines: Vec<&HarvestLine> = view.lines.iter().filter(|line| line.treatment == *label).collect();
        let value = |key: &str, plot: u32| {
            let measure = trial.measures.iter().position(|measure| measure.key == key)?;
            observed.value(plot, measure)
        };
        let mean_of =
            |key: &str, decimals: i32| shown_mean(lines.iter().filter_map(|line| value(key, line.plot)), decimals);
        let areas = lines
            .iter()
            .filter_map(|line| Some(value(harvest_key::LENGTH, line.plot)? * value(harvest_key::WIDTH, line.plot)?));
        let yields = |pick: fn(&HarvestLine) -> Option<f64>| {
            mean(lines.iter().filter_map(|line| pick(line))).map(|mean| decimals.value(mean)).unwrap_or_default()
        };
        table.push(Row::plain([
            label.clone(),
            lines.iter().filter(|line| line.raw.is_some()).count().to_string(),
            mean_of(harvest_key::MASS, 2),
            mean_of(harvest_key::MOISTURE, 1),
            shown_mean(areas, 2),
            yields(|line| line.raw),
            yields(|line| line.standard),
        ]));
    }
    table.notes = view
        .lines
        .iter()
        .filter(|line| !line.why_not.is_empty())
        .map(|line| format!("Plot {}: {}.", line.plot, line.why_not))
        .collect();
    table
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (count, sum) = values.fold((0, 0.0), |(count, sum), value| (count + 1, sum + value));
    (count > 0).then(|| sum / f64::from(count))
}

fn shown_mean(values: impl Iterator<Item = f64>, decimals: i32) -> String {
    mean(values).map(|mean| shown(mean, decimals)).unwrap_or_default()
}
