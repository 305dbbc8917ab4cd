//! Models of the errors beside the analysis as randomised: of the ground, and of places and seasons that vary unequally.

use guardrow_findings::mid_sentence;
use guardrow_inference::{ErrorModel, ErrorModels, ErrorsByEnvironment, FieldTrend, MeansTable};
use guardrow_publish::chart::{Chart, Figure};
use guardrow_publish::map::MapView;
use guardrow_publish::report::{Beside as Told, Column, Notice, NoticeLevel, Row, RowKind, Table};

use super::numbers::Decimals;
use crate::analysed::{Analysed, Leading};
use crate::beside::{Beside, MOST_PLOTS, MOST_PLOTS_AT_PLACES};
use crate::dossier::{Dossier, Laid};
use crate::paper::map::{Shade, map_view};

/// More rows than this are for a file, not for a reader.
const MOST_ROWS: usize = 60;

/// Where and when a map is made.
pub(crate) struct On<'a> {
    pub trial: &'a Dossier,
    pub laid: &'a Laid,
    pub station: &'a str,
    pub day: &'a str,
}

/// What is told of the models of one measure.
///
/// - `withheld`: factors whose means may not be told alone
pub(crate) fn told(
    measure: &Analysed,
    found: &Beside,
    plain: Leading<'_>,
    decimals: Decimals,
    withheld: &[String],
    on: &On<'_>,
) -> Vec<Told> {
    let mut told = Vec::new();
    let beside = Means { measure, plain, decimals, withheld };
    if let Some(Ok(trend)) = &found.ground {
        told.push(ground(trend, &beside, on));
    }
    if let Some(Ok(places)) = &found.places {
        told.push(of_places(places, &beside));
    }
    told
}

/// Why there are no models of the ground where a reader would look for them.
pub(crate) fn why_not(measure: &Analysed, found: &Beside, places_are_known: bool) -> Vec<Notice> {
    let mut notices = Vec::new();
    let mut note = |text| notices.push(Notice { level: NoticeLevel::Technical, text });
    let plots = measure.response.iter().flatten().count();
    if places_are_known && plots > MOST_PLOTS && measure.experiment.environments.is_empty() {
        note(format!("Models of the ground were not tried: they are up to {MOST_PLOTS} plots, and these are {plots}."));
    }
    if !measure.experiment.environments.is_empty() && plots > MOST_PLOTS_AT_PLACES {
        let most = MOST_PLOTS_AT_PLACES;
        note(format!(
            "Errors of each place or season were not tried: they are up to {most} plots, and these are {plots}."
        ));
    }
    if let Some(Err(error)) = &found.ground {
        note(format!("There are no models of the ground: {}", measure.words(error)));
    }
    if let Some(Err(error)) = &found.places {
        note(format!("There is no analysis with an error of each place or season: {}", measure.words(error)));
    }
    notices
}

fn ground(trend: &FieldTrend, means: &Means<'_>, on: &On<'_>) -> Told {
    let models = &trend.models;
    let tried: Vec<String> =
        models.models.iter().skip(1).filter(|it| it.fitted.is_some()).map(|it| it.name.clone()).collect();
    let mut told = Told {
        heading: "Models of the ground".to_owned(),
        sentences: vec![format!("Tried beside: {}. {}", tried.join("; "), models.reason)],
        ..Told::default()
    };
    if models.chosen == 0 {
        return told;
    }
    told.sentences.push(trend.why.clone());
    told.tables.push(models_table(models, means.decimals));
    told.tables.extend(means.beside(&trend.tables, models));
    told.map = Some(ground_map(trend, means, on));
    told
}

/// What the ground of each plot adds, by the chosen model.
fn ground_map(trend: &FieldTrend, means: &Means<'_>, on: &On<'_>) -> Figure {
    let value = |number: u32| {
        let index = means.measure.plots.iter().position(|plot| *plot == number)?;
        let ground = trend.plots.iter().find(|it| it.plot == index)?.ground;
        Some((ground, means.decimals.difference(ground)))
    };
    let label = format!("Ground ({})", means.measure.unit.symbol());
    let shade = Shade { label, value: &value };
    let note = "What the ground adds to each plot's treatment mean, predicted by the chosen model.".to_owned();
    let view = MapView { notes: vec![note], ..map_view(on.trial, on.laid, on.station, on.day, Some(shade)) };
    let caption =
        format!("The ground under {}, by the model '{}'.", mid_sentence(&means.measure.name), name(&trend.models));
    Figure::new(caption, Chart::PlotMap(view))
}

fn of_places(found: &ErrorsByEnvironment, means: &Means<'_>) -> Told {
    let mut told = Told {
        heading: "An error of each place or season".to_owned(),
        sentences: vec![format!("Tried beside one error for all: {}", found.models.reason)],
        ..Told::default()
    };
    if found.models.chosen != 0 {
        let advice = "Where the two columns of means lead to different advice, say so: it then hangs on how the places are weighed.";
        told.sentences.push(advice.to_owned());
        told.tables.push(models_table(&found.models, means.decimals));
        told.tables.extend(means.beside(&found.tables, &found.models));
    }
    told
}

fn name(models: &ErrorModels) -> &str {
    &models.models[models.chosen].name
}

fn models_table(models: &ErrorModels, decimals: Decimals) -> Table {
    let remark = |model: &ErrorModel| model.why_not.clone().unwrap_or_else(|| model.edges.join(" "));
    let has_remarks = models.models.iter().any(|model| !remark(model).is_empty());
    let mut columns = vec![
        Column::left("Model"),
        Column::right("Variances and correlations"),
        Column::right("Criterion above the smallest"),
        Column::right("SED (mean)"),
    ];
    if has_remarks {
        columns.push(Column::left("Remark"));
    }
    let mut table = Table::new("Models that were tried", columns);
    for (index, model) in models.models.iter().enumerate() {
        let kind = if index == models.chosen { RowKind::Total } else { RowKind::Plain };
        let told = numbers_of(model, decimals).into_iter().chain(has_remarks.then(|| remark(model)));
        table.push(Row::of(kind, told));
    }
    table.notes = vec![models.criterion.clone()];
    table
}

fn numbers_of(model: &ErrorModel, decimals: Decimals) -> [String; 4] {
    [
        model.name.clone(),
        model.fitted.as_ref().map(|it| it.covariance_parameters.to_string()).unwrap_or_default(),
        model.behind.map(|it| guardrow_agronomy::rounding::shown(it, 1)).unwrap_or_default(),
        model.sed.map(|sed| decimals.finer().value(sed.mean)).unwrap_or_default(),
    ]
}

/// The means as randomised, to set those of a model beside.
struct Means<'a> {
    measure: &'a Analysed,
    plain: Leading<'a>,
    decimals: Decimals,
    withheld: &'a [String],
}

impl Means<'_> {
    /// Means of both, for every table that may be told.
    fn beside(&self, by_model: &[MeansTable], models: &ErrorModels) -> Vec<Table> {
        let is_told = |table: &&MeansTable| {
            let alone = table.term.len() == 1 && self.withheld.contains(&table.term[0]);
            !alone && table.cells.len() <= MOST_ROWS
        };
        let mut told: Vec<&MeansTable> = self.plain.tables.iter().filter(is_told).collect();
        told.sort_by_key(|table| std::cmp::Reverse(table.term.len()));
        let pairs = told.into_iter().filter_map(|plain| {
            let other = by_model.iter().find(|other| other.term == plain.term)?;
            Some(self.one(plain, other, models))
        });
        pairs.collect()
    }

    fn one(&self, plain: &MeansTable, other: &MeansTable, models: &ErrorModels) -> Table {
        let unit = self.measure.unit.symbol();
        let columns = vec![
            Column::left(&plain.label),
            Column::right("As randomised").with_unit(unit),
            Column::right("By the model").with_unit(unit),
            Column::right("Change").with_unit(unit),
        ];
        let mut table = Table::new(format!("Means as randomised and by '{}': {}", name(models), plain.label), columns);
        for cell in &plain.cells {
            let Some(by_model) = other.cells.iter().find(|it| it.label == cell.label) else { continue };
            table.push(Row::plain([
                cell.label.clone(),
                self.decimals.value(cell.mean),
                self.decimals.value(by_model.mean),
                self.decimals.difference(by_model.mean - cell.mean),
            ]));
        }
        if !plain.pairs.is_empty() && !other.pairs.is_empty() {
            let finer = self.decimals.finer();
            let sed = |table: &MeansTable| finer.value(table.sed.mean);
            table.push(Row::of(RowKind::Total, ["SED (mean)".to_owned(), sed(plain), sed(other), String::new()]));
        }
        table
    }
}
