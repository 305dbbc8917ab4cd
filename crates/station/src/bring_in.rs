//! A trial that was laid out elsewhere: a plan file, and a table of plots with what was observed on them.

use std::collections::HashMap;

use guardrow_design::{Arrangement, Layout, Plot, PlotKind, Scale, Treatment};
use guardrow_store::{LayoutLock, NewIntake, NewLayout, NewTrial, NewVersion, Sha256, SourceKind, new_id};
use uuid::Uuid;

use crate::dossier::{Dossier, Laid};
use crate::error::ErrorKind;
use crate::intake::table::{Cell, Table, not_understood};
use crate::intake::{CheckedValues, TableValue, check_table, measure_named, read_table};
use crate::layouts::stored_plots;
use crate::observation::Observed;
use crate::spelling::near;
use crate::station::{named, to_json};
use crate::{
    CellEntry, IncomingFile, LayoutLine, Plan, Remark, Station, StationError, TableColumns, TrialView, Weight,
    check_plan,
};

/// What the layout's lock says for such a trial.
const LAID_OUT_ELSEWHERE: &str = "laid out elsewhere";

/// A trial from its plan and table, not yet stored anywhere.
pub(crate) struct Brought {
    /// The trial with its layout.
    pub trial: Dossier,
    /// Its values.
    pub values: CheckedValues,
}

impl Brought {
    /// Its values as observations, each said to come from the table.
    pub(crate) fn observed(&self, file: &str, now: jiff::Timestamp) -> Observed {
        let mut observed = Observed::default();
        for value in &self.values.observations {
            let entry = CellEntry {
                id: Uuid::nil(),
                status: value.status,
                value: value.value,
                text: value.text.clone(),
                by: String::new(),
                recorded_at: now,
                source: format!("{file}, line {}", value.line),
                reason: None,
                replaces: None,
            };
            observed.add(value.plot, value.measure, entry);
        }
        observed
    }
}

impl Station {
    /// Takes a trial that was laid out elsewhere into the station: plan, layout and observations in one piece.
    ///
    /// # Errors
    /// With a remark for every field of the plan and every row of the table that cannot be right; nothing is written.
    pub fn bring_in(&self, plan: &Plan, file: &IncomingFile, by: &str) -> Result<TrialView, StationError> {
        let by = named(by)?;
        let now = self.now();
        let brought = read(plan, file, now)?;
        let laid = brought.trial.laid()?.clone();
        let trial = &brought.trial;
        let intake = NewIntake {
            id: new_id(now),
            trial_id: Some(trial.id),
            file_name: file.name.clone(),
            sha256: Sha256::of(&file.bytes),
            bytes: file.bytes.len() as u64,
            rows: u32::try_from(brought.values.observations.len()).unwrap_or(u32::MAX),
            accepted_at: now,
            by: by.to_owned(),
            repeat_reason: None,
        };
        self.store.write(|writing| {
            writing.create_trial(&NewTrial {
                id: trial.id,
                code: trial.code().to_owned(),
                created_at: now,
                by: by.to_owned(),
            })?;
            let body = to_json(plan);
            writing.append_plan(
                trial.id,
                0,
                &NewVersion { body, recorded_at: now, by: by.to_owned(), reason: None },
            )?;
            writing.append_layout(
                0,
                &NewLayout {
                    id: laid.id,
                    trial_id: trial.id,
                    plan_version: 1,
                    plots: stored_plots(&laid.layout, trial),
                    body: to_json(&laid.layout),
                    seed: None,
                    algorithm: "0".to_owned(),
                    drawn_at: now,
                    by: by.to_owned(),
                    reason: None,
                },
            )?;
            writing.lock_layout(&LayoutLock {
                layout_id: laid.id,
                what: LAID_OUT_ELSEWHERE.to_owned(),
                locked_at: now,
                by: by.to_owned(),
            })?;
            Ok::<_, StationError>(())
        })?;
        let kind = if file.bytes.starts_with(b"PK") { SourceKind::Spreadsheet } else { SourceKind::Csv };
        self.append_observations(trial.code(), &brought.values.observations, &[], &intake, kind)?;
        self.trial(trial.code())
    }
}

/// Reads plan and table together, without a station.
pub(crate) fn read(plan: &Plan, file: &IncomingFile, now: jiff::Timestamp) -> Result<Brought, StationError> {
    refuse_unsound(plan)?;
    let table = read_table(file)?;
    let columns = Columns::find(plan, file, &table)?;
    let layout = columns.layout(plan, file, &table)?;
    let line = LayoutLine {
        version: 1,
        seed: String::new(),
        algorithm: 0,
        drawn_at: now,
        by: String::new(),
        reason: String::new(),
        locked: Some(LAID_OUT_ELSEWHERE.to_owned()),
    };
    let laid = Laid::new(new_id(now), line, 1, plan, layout);
    let trial = Dossier::new(new_id(now), plan.clone(), 1, Some(laid));
    let values = check_table(&trial, file, &table, &columns.values(&trial, &table));
    let against: Vec<Remark> =
        values.remarks.iter().filter(|remark| remark.weight == Weight::Refuse).cloned().collect();
    if !against.is_empty() {
        return Err(refused(file, against));
    }
    Ok(Brought { trial, values })
}

fn refuse_unsound(plan: &Plan) -> Result<(), StationError> {
    let against: Vec<Remark> =
        check_plan(plan).remarks.into_iter().filter(|remark| remark.weight == Weight::Refuse).collect();
    if against.is_empty() {
        return Ok(());
    }
    Err(StationError::new(
        ErrorKind::Refused,
        "the plan cannot be right",
        "plan file",
        "mend the fields that are named",
    )
    .with_remarks(against))
}

fn refused(file: &IncomingFile, remarks: Vec<Remark>) -> StationError {
    StationError::new(
        ErrorKind::Refused,
        format!("{} does not fit the plan; nothing was taken in", file.name),
        file.name.clone(),
        "mend the rows that are named, or the plan",
    )
    .with_remarks(remarks)
}

/// Where in the table everything stands.
struct Columns {
    plot: Option<usize>,
    replicate: Option<usize>,
    main_plot: Option<usize>,
    treatment: Option<usize>,
    factors: Vec<Option<usize>>,
    range: Option<usize>,
    pass: Option<usize>,
    measures: Vec<(usize, usize)>,
}

impl Columns {
    fn find(plan: &Plan, file: &IncomingFile, table: &Table) -> Result<Columns, StationError> {
        let names = plan.table.clone().unwrap_or_default();
        let named = |name: &Option<String>, usual: &str| column(file, table, name.as_deref(), usual);
        let columns = Columns {
            plot: named(&names.plot, "plot")?,
            replicate: named(&names.replicate, "replicate")?,
            main_plot: named(&names.main_plot, "main plot")?,
            treatment: named(&names.treatment, "treatment")?,
            factors: factor_columns(plan, &names, file, table)?,
            range: named(&names.range, "range")?,
            pass: named(&names.pass, "pass")?,
            measures: measure_columns(plan, table),
        };
        columns.check(plan, file, table)?;
        Ok(columns)
    }

    fn check(&self, plan: &Plan, file: &IncomingFile, table: &Table) -> Result<(), StationError> {
        let missing: Vec<&str> = plan
            .treatments
            .factors
            .iter()
            .zip(&self.factors)
            .filter(|(_, column)| column.is_none() && self.treatment.is_none())
            .map(|(factor, _)| factor.name.as_str())
            .collect();
        if let Some(factor) = missing.first() {
            return Err(not_understood(
                &file.name,
                format!("no column holds the factor “{factor}”; the columns are {}", table.header.join(", ")),
                "name the column in the plan file under [table.factors], or give a treatment column",
            ));
        }
        let needs_replicate = !matches!(plan.arrangement, Arrangement::CompletelyRandom { .. });
        if needs_replicate && self.replicate.is_none() {
            return Err(not_understood(
                &file.name,
                "no column holds the replicate, and the arrangement has replicates",
                "name the column in the plan file: [table] replicate = \"...\"",
            ));
        }
        if self.measures.is_empty() {
            return Err(not_understood(
                &file.name,
                format!("no column is a measure of the plan; the columns are {}", table.header.join(", ")),
                "give each measure in the plan the name of its column as key",
            ));
        }
        Ok(())
    }

    fn layout(&self, plan: &Plan, file: &IncomingFile, table: &Table) -> Result<Layout, StationError> {
        let mut reader = RowReader::new(self, plan, file, table);
        let mut remarks = Vec::new();
        let mut plots = Vec::new();
        for (index, (line, cells)) in table.rows.iter().enumerate() {
            match reader.plot(index, *line, cells) {
                Ok(plot) => plots.push(plot),
                Err(remark) => remarks.push(remark),
            }
        }
        remarks.extend(reader.mixed_main_plots());
        if !remarks.is_empty() {
            return Err(refused(file, remarks));
        }
        place(&mut plots, plan, self.range.is_some() && self.pass.is_some());
        let ranges = plots.iter().map(|plot| plot.range).max().unwrap_or(0);
        let passes = plots.iter().map(|plot| plot.pass).max().unwrap_or(0);
        Ok(Layout {
            width_m: passes as f64 * plan.ground.plot_width_m,
            length_m: ranges as f64 * plan.ground.plot_length_m
                + ranges.saturating_sub(1) as f64 * plan.ground.alley_between_ranges_m,
            ground: plan.ground.clone(),
            plots,
            ranges,
            passes,
        })
    }

    /// The measure cells of all rows, with the plot number that each row was given.
    fn values(&self, trial: &Dossier, table: &Table) -> Vec<TableValue> {
        let numbers: Vec<u32> =
            trial.laid.iter().flat_map(|laid| laid.layout.plots.iter().filter_map(|plot| plot.number)).collect();
        let mut values = Vec::new();
        for ((line, cells), number) in table.rows.iter().zip(numbers) {
            for &(column, measure) in self.measures.iter().filter(|(column, _)| !cells[*column].is_empty()) {
                values.push(TableValue {
                    line: *line,
                    column: table.header[column].clone(),
                    plot: Cell::Number(f64::from(number)),
                    treatment: None,
                    day: None,
                    measure: Ok(measure),
                    unit: None,
                    value: cells[column].clone(),
                });
            }
        }
        values
    }
}

fn column(file: &IncomingFile, table: &Table, name: Option<&str>, usual: &str) -> Result<Option<usize>, StationError> {
    match name {
        None => Ok(table.column(usual)),
        Some(name) => table.column(name).map(Some).ok_or_else(|| {
            let try_this = near(name, &table.header).map_or_else(
                || format!("the columns are {}", table.header.join(", ")),
                |near| format!("did you mean “{near}”?"),
            );
            not_understood(&file.name, format!("there is no column “{name}”, which the plan names"), try_this)
        }),
    }
}

fn factor_columns(
    plan: &Plan,
    names: &TableColumns,
    file: &IncomingFile,
    table: &Table,
) -> Result<Vec<Option<usize>>, StationError> {
    plan.treatments
        .factors
        .iter()
        .map(|factor| column(file, table, names.factors.get(&factor.name).map(String::as_str), &factor.name))
        .collect()
}

fn measure_columns(plan: &Plan, table: &Table) -> Vec<(usize, usize)> {
    let measures = plan.observed_measures();
    table.header.iter().enumerate().filter_map(|(at, heading)| Some((at, measure_named(heading, &measures)?))).collect()
}

/// Reads rows as plots, remembering which replicates and main plots there were before.
struct RowReader<'a> {
    columns: &'a Columns,
    plan: &'a Plan,
    file: &'a IncomingFile,
    table: &'a Table,
    treatments: Vec<Treatment>,
    replicates: Vec<String>,
    main_plots: HashMap<usize, Vec<String>>,
    main_plot_levels: HashMap<(usize, usize), (Vec<usize>, usize)>,
    numbers: HashMap<u32, usize>,
    mixed: Vec<Remark>,
}

impl<'a> RowReader<'a> {
    fn new(columns: &'a Columns, plan: &'a Plan, file: &'a IncomingFile, table: &'a Table) -> RowReader<'a> {
        RowReader {
            columns,
            plan,
            file,
            table,
            treatments: plan.treatments.treatments(),
            replicates: Vec::new(),
            main_plots: HashMap::new(),
            main_plot_levels: HashMap::new(),
            numbers: HashMap::new(),
            mixed: Vec::new(),
        }
    }

    fn plot(&mut self, index: usize, line: usize, cells: &[Cell]) -> Result<Plot, Remark> {
        let number = self.number(index, line, cells)?;
        let treatment = self.treatment(line, cells)?;
        let replicate = match self.columns.replicate {
            None => 1,
            Some(at) if cells[at].is_empty() => {
                return Err(self.remark(
                    line,
                    at,
                    "the replicate is missing".to_owned(),
                    "every plot stands in a replicate",
                ));
            }
            Some(at) => 1 + place_of(&cells[at].text(), &mut self.replicates),
        };
        let main_plot = self.main_plot(line, cells, replicate, treatment);
        let whole = |at: Option<usize>| at.and_then(|at| cells[at].text().parse::<usize>().ok());
        Ok(Plot {
            number: Some(number),
            kind: PlotKind::Plot,
            replicate: Some(replicate),
            main_plot,
            range: whole(self.columns.range).unwrap_or(0),
            pass: whole(self.columns.pass).unwrap_or(0),
            treatment: Some(treatment),
            x_m: 0.0,
            y_m: 0.0,
            width_m: self.plan.ground.plot_width_m,
            length_m: self.plan.ground.plot_length_m,
        })
    }

    fn number(&mut self, index: usize, line: usize, cells: &[Cell]) -> Result<u32, Remark> {
        let number = match self.columns.plot {
            None => index as u32 + 1,
            Some(at) => cells[at].text().parse().map_err(|_| {
                let what = format!("“{}” is not a plot number", cells[at].text());
                self.remark(line, at, what, "write a whole number, or leave the plot column out of the plan")
            })?,
        };
        match self.numbers.insert(number, line) {
            None => Ok(number),
            Some(first) => Err(self.remark(
                line,
                self.columns.plot.unwrap_or(0),
                format!("plot {number} comes twice; the first is on line {first}"),
                "every row is one plot; subsamples must be averaged before",
            )),
        }
    }

    fn treatment(&self, line: usize, cells: &[Cell]) -> Result<usize, Remark> {
        if let Some(at) = self.columns.treatment {
            let written = cells[at].text();
            if let Some(index) =
                self.treatments.iter().position(|treatment| treatment.label.eq_ignore_ascii_case(&written))
            {
                return Ok(index);
            }
            if self.columns.factors.iter().any(Option::is_none) {
                let labels: Vec<String> = self.treatments.iter().map(|treatment| treatment.label.clone()).collect();
                let try_this = near(&written, &labels).map_or_else(
                    || format!("the treatments are {}", labels.join("; ")),
                    |label| format!("did you mean “{label}”?"),
                );
                return Err(self.remark(line, at, format!("“{written}” is not a treatment of the plan"), &try_this));
            }
        }
        let mut levels = Vec::new();
        for (factor, column) in self.plan.treatments.factors.iter().zip(&self.columns.factors) {
            let at = column.expect("a factor without a column was refused before");
            levels.push(self.level(line, at, factor, &cells[at])?);
        }
        let index = self.treatments.iter().position(|treatment| treatment.levels == levels);
        Ok(index.expect("all combinations of levels are treatments"))
    }

    fn level(&self, line: usize, at: usize, factor: &guardrow_design::Factor, cell: &Cell) -> Result<usize, Remark> {
        let written = cell.text();
        let by_label = factor.levels.iter().position(|level| level.label.eq_ignore_ascii_case(&written));
        let by_amount = || match factor.scale {
            Scale::Quantitative { .. } => {
                let amount: f64 = written.replace(',', ".").parse().ok()?;
                factor.levels.iter().position(|level| level.amount == Some(amount))
            }
            Scale::Qualitative => None,
        };
        by_label.or_else(by_amount).ok_or_else(|| {
            let labels: Vec<String> = factor.levels.iter().map(|level| level.label.clone()).collect();
            let try_this = near(&written, &labels).map_or_else(
                || format!("the levels of {} are {}", factor.name, labels.join(", ")),
                |label| format!("did you mean “{label}”?"),
            );
            self.remark(line, at, format!("“{written}” is not a level of {}", factor.name), &try_this)
        })
    }

    fn main_plot(&mut self, line: usize, cells: &[Cell], replicate: usize, treatment: usize) -> Option<usize> {
        let Arrangement::SplitPlot { main_plot_factors, .. } = &self.plan.arrangement else { return None };
        let levels: Vec<usize> = self
            .plan
            .treatments
            .factors
            .iter()
            .zip(&self.treatments[treatment].levels)
            .filter(|(factor, _)| main_plot_factors.contains(&factor.name))
            .map(|(_, &level)| level)
            .collect();
        let name = match self.columns.main_plot {
            Some(at) => cells[at].text(),
            None => format!("{levels:?}"),
        };
        let main_plot = 1 + place_of(&name, self.main_plots.entry(replicate).or_default());
        let (first, first_line) =
            self.main_plot_levels.entry((replicate, main_plot)).or_insert((levels.clone(), line)).clone();
        if first != levels {
            let remark = self.remark(
                line,
                self.columns.main_plot.unwrap_or(0),
                format!("this main plot has other levels of the main-plot factors than on line {first_line}"),
                "a main plot carries one combination of them; check the main-plot column",
            );
            self.mixed.push(remark);
        }
        Some(main_plot)
    }

    fn mixed_main_plots(&self) -> Vec<Remark> {
        self.mixed.clone()
    }

    fn remark(&self, line: usize, column: usize, what: String, try_this: &str) -> Remark {
        Remark {
            weight: Weight::Refuse,
            place: format!("{}, column {}", self.table.place(&self.file.name, line), self.table.header[column]),
            what,
            try_this: try_this.to_owned(),
        }
    }
}

fn place_of(name: &str, known: &mut Vec<String>) -> usize {
    known.iter().position(|earlier| earlier == name).unwrap_or_else(|| {
        known.push(name.to_owned());
        known.len() - 1
    })
}

/// Gives plots without a known place one for the map: a range for each replicate, in the order of the table.
fn place(plots: &mut [Plot], plan: &Plan, known: bool) {
    let mut next: HashMap<usize, usize> = HashMap::new();
    for plot in plots {
        if !known || plot.range == 0 || plot.pass == 0 {
            plot.range = plot.replicate.unwrap_or(1);
            let pass = next.entry(plot.range).or_default();
            *pass += 1;
            plot.pass = *pass;
        }
        plot.x_m = (plot.pass - 1) as f64 * plan.ground.plot_width_m;
        plot.y_m = (plot.range - 1) as f64 * (plan.ground.plot_length_m + plan.ground.alley_between_ranges_m);
    }
}
