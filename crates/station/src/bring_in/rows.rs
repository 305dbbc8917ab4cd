//! From the rows of a table to plots in their units.

use std::collections::{BTreeMap, HashMap};

use guardrow_design::{Arrangement, COLUMN, Layout, Plot, PlotKind, ROW, Scale, Treatment};

use super::columns::{Columns, UnitColumn};
use super::refused;
use crate::intake::table::{Cell, Table};
use crate::spelling::near;
use crate::{IncomingFile, Plan, Remark, StationError, Weight};

/// Labels that are whole numbers up to this are kept as the numbers of their units; larger ones are codes.
const LARGEST_UNIT_NUMBER: usize = 10_000;

/// The layout that the rows of a table describe.
///
/// # Errors
/// With a remark for every row that cannot be a plot of this arrangement.
pub(super) fn layout(
    columns: &Columns,
    plan: &Plan,
    file: &IncomingFile,
    table: &Table,
) -> Result<Layout, StationError> {
    let mut reader =
        RowReader { columns, plan, file, table, treatments: plan.treatments.treatments(), numbers: HashMap::new() };
    let mut remarks = Vec::new();
    let mut rows = Vec::new();
    for (index, (line, cells)) in table.rows.iter().enumerate() {
        match reader.row(index, *line, cells) {
            Ok(row) => rows.push(row),
            Err(remark) => remarks.push(remark),
        }
    }
    let units = Units::of(plan, columns, &rows);
    remarks.extend(reader.mixed(&rows, &units));
    if !remarks.is_empty() {
        return Err(refused(file, remarks));
    }
    let mut plots: Vec<Plot> = rows.iter().enumerate().map(|(at, row)| reader.plot(row, at, &units)).collect();
    place(&mut plots, plan, columns.range.is_some() && columns.pass.is_some());
    let ranges = plots.iter().map(|plot| plot.range).max().unwrap_or(0);
    let passes = plots.iter().map(|plot| plot.pass).max().unwrap_or(0);
    let unit_names = units.names(plan, columns, &rows);
    Ok(Layout {
        width_m: passes as f64 * plan.ground.plot_width_m,
        length_m: ranges as f64 * plan.ground.plot_length_m
            + ranges.saturating_sub(1) as f64 * plan.ground.alley_between_ranges_m,
        ground: plan.ground.clone(),
        plots,
        ranges,
        passes,
        unit_names,
    })
}

/// What one row says of its plot.
struct Row {
    line: usize,
    number: u32,
    treatment: usize,
    /// Label of each unit, in the order of [`Columns::units`].
    labels: Vec<String>,
    range: usize,
    pass: usize,
}

/// The number of every unit that a row lies in.
struct Units {
    /// For each kind of unit, which other kinds hold it, as indices of [`Columns::units`].
    around: Vec<Vec<usize>>,
    /// For each kind of unit, each row's number.
    numbers: Vec<Vec<usize>>,
}

impl Units {
    /// Numbers the units within those that hold them: by their labels, where all are whole numbers, else as they are met. A place or
    /// season has the same number wherever its name comes again.
    fn of(plan: &Plan, columns: &Columns, rows: &[Row]) -> Units {
        let strata = plan.arrangement.block_structure(&plan.treatments).strata();
        let place = |name: &String| columns.units.iter().position(|unit| unit.unit == *name);
        let holding = |unit: &UnitColumn| {
            let own = strata.iter().filter(|stratum| stratum.units.contains(&unit.unit));
            let smallest = own.min_by_key(|stratum| stratum.units.len());
            let others = smallest.into_iter().flat_map(|stratum| &stratum.units).filter(|name| **name != unit.unit);
            others.filter_map(place).collect::<Vec<_>>()
        };
        let around: Vec<Vec<usize>> = columns.units.iter().map(holding).collect();
        let mut numbers: Vec<Vec<usize>> = Vec::new();
        for (unit, around) in around.iter().enumerate() {
            let whole =
                |row: &Row| row.labels[unit].parse().ok().filter(|number| (1..=LARGEST_UNIT_NUMBER).contains(number));
            let by_label: Option<Vec<usize>> = rows.iter().map(whole).collect();
            let as_met = || {
                let mut known: HashMap<Vec<usize>, Vec<&str>> = HashMap::new();
                let number = |(at, row)| {
                    let row: &Row = row;
                    let holders = match is_environment(plan, &columns.units[unit].unit) {
                        true => Vec::new(),
                        false => around.iter().map(|&outer| numbers[outer][at]).collect(),
                    };
                    1 + place_of(&row.labels[unit], known.entry(holders).or_default())
                };
                rows.iter().enumerate().map(number).collect()
            };
            let found = by_label.unwrap_or_else(as_met);
            numbers.push(found);
        }
        Units { around, numbers }
    }

    /// The names of places and seasons that were not told by numbers.
    fn names(&self, plan: &Plan, columns: &Columns, rows: &[Row]) -> BTreeMap<String, BTreeMap<usize, String>> {
        let mut names = BTreeMap::new();
        for (kind, unit) in columns.units.iter().enumerate().filter(|(_, unit)| is_environment(plan, &unit.unit)) {
            let labels = rows.iter().map(|row| row.labels[kind].clone());
            let named: BTreeMap<usize, String> = self.numbers[kind].iter().copied().zip(labels).collect();
            if named.iter().any(|(number, label)| label.parse() != Ok(*number)) {
                names.insert(unit.unit.clone(), named);
            }
        }
        names
    }

    /// The whole address of a row's unit: the units around it and its own number.
    fn address(&self, unit: usize, row: usize) -> Vec<usize> {
        self.around[unit].iter().chain([&unit]).map(|&kind| self.numbers[kind][row]).collect()
    }
}

fn is_environment(plan: &Plan, unit: &String) -> bool {
    matches!(&plan.arrangement, Arrangement::Stated(stated) if stated.environments.contains(unit))
}

/// Reads rows as plots.
struct RowReader<'a> {
    columns: &'a Columns,
    plan: &'a Plan,
    file: &'a IncomingFile,
    table: &'a Table,
    treatments: Vec<Treatment>,
    numbers: HashMap<u32, usize>,
}

impl RowReader<'_> {
    fn row(&mut self, index: usize, line: usize, cells: &[Cell]) -> Result<Row, Remark> {
        let number = self.number(index, line, cells)?;
        let treatment = self.treatment(line, cells)?;
        let labels = self.columns.units.iter().map(|unit| self.label(unit, treatment, line, cells));
        let labels = labels.collect::<Result<_, _>>()?;
        let whole = |at: Option<usize>| at.and_then(|at| cells[at].text().parse::<usize>().ok()).unwrap_or(0);
        let (range, pass) = (whole(self.columns.range), whole(self.columns.pass));
        Ok(Row { line, number, treatment, labels, range, pass })
    }

    fn label(&self, unit: &UnitColumn, treatment: usize, line: usize, cells: &[Cell]) -> Result<String, Remark> {
        let Some(at) = unit.column else {
            return Ok(format!("levels {:?}", self.levels_on(unit, treatment)));
        };
        let name = if super::columns::is_replicate(self.plan, &unit.unit) { "replicate" } else { &unit.unit };
        match cells[at].text() {
            text if text.is_empty() => {
                Err(self.remark(line, at, format!("the {name} is missing"), &format!("every plot stands in a {name}")))
            }
            text => Ok(text),
        }
    }

    fn levels_on(&self, unit: &UnitColumn, treatment: usize) -> Vec<usize> {
        let levels = &self.treatments[treatment].levels;
        unit.factors.iter().filter_map(|&factor| levels.get(factor).copied()).collect()
    }

    /// Remarks on units that carry more than one combination of the factors that were randomised to them.
    fn mixed(&self, rows: &[Row], units: &Units) -> Vec<Remark> {
        let mut remarks = Vec::new();
        for (kind, unit) in self.columns.units.iter().enumerate().filter(|(_, unit)| !unit.factors.is_empty()) {
            let mut first: HashMap<Vec<usize>, (Vec<usize>, usize)> = HashMap::new();
            for (at, row) in rows.iter().enumerate() {
                let levels = self.levels_on(unit, row.treatment);
                let known = first.entry(units.address(kind, at)).or_insert((levels.clone(), row.line));
                if known.0 != levels {
                    let name = &unit.unit;
                    remarks.push(self.remark(
                        row.line,
                        unit.column.unwrap_or(0),
                        format!("this {name} has other levels of the factors on {name}s than on line {}", known.1),
                        &format!("a {name} carries one combination of them; check the column of the {name}"),
                    ));
                }
            }
        }
        remarks
    }

    fn plot(&self, row: &Row, at: usize, units: &Units) -> Plot {
        let structure = self.plan.arrangement.block_structure(&self.plan.treatments);
        let mut replicate = 1;
        let mut others = BTreeMap::new();
        for (kind, unit) in self.columns.units.iter().enumerate() {
            if structure.outermost() == Some(&unit.unit) {
                replicate = units.numbers[kind][at];
            } else {
                others.insert(unit.unit.clone(), units.numbers[kind][at]);
            }
        }
        Plot {
            number: Some(row.number),
            kind: PlotKind::Plot,
            replicate: Some(replicate),
            units: others,
            range: row.range,
            pass: row.pass,
            treatment: Some(row.treatment),
            x_m: 0.0,
            y_m: 0.0,
            width_m: self.plan.ground.plot_width_m,
            length_m: self.plan.ground.plot_length_m,
        }
    }

    fn number(&mut self, index: usize, line: usize, cells: &[Cell]) -> Result<u32, Remark> {
        let Some(at) = self.columns.plot.filter(|_| !self.columns.plots_hold_several_rows()) else {
            return Ok(u32::try_from(index + 1).unwrap_or(u32::MAX));
        };
        let number = cells[at].text().parse().map_err(|_| {
            let what = format!("“{}” is not a plot number", cells[at].text());
            self.remark(line, at, what, "write a whole number, or leave the plot column out of the plan")
        })?;
        match self.numbers.insert(number, line) {
            None => Ok(number),
            Some(first) => Err(self.remark(
                line,
                at,
                format!("plot {number} comes twice; the first is on line {first}"),
                "every row is one plot; where several samples of a plot have rows of their own, say so in the units",
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

    fn remark(&self, line: usize, column: usize, what: String, try_this: &str) -> Remark {
        Remark {
            weight: Weight::Refuse,
            place: format!("{}, column {}", self.table.place(&self.file.name, line), self.table.header[column]),
            what,
            try_this: try_this.to_owned(),
        }
    }
}

fn place_of<'a>(name: &'a str, known: &mut Vec<&'a str>) -> usize {
    known.iter().position(|earlier| *earlier == name).unwrap_or_else(|| {
        known.push(name);
        known.len() - 1
    })
}

/// Gives plots without a known place one for the map: where they lie in rows and columns, those; else a range for each
/// replicate, in the order of the table.
fn place(plots: &mut [Plot], plan: &Plan, known: bool) {
    let rows = plots.iter().filter_map(|plot| plot.unit(ROW)).max().unwrap_or(0);
    let mut next: HashMap<usize, usize> = HashMap::new();
    for plot in plots.iter_mut() {
        if !known || plot.range == 0 || plot.pass == 0 {
            let replicate = plot.replicate.unwrap_or(1);
            (plot.range, plot.pass) = match plot.unit(ROW).zip(plot.unit(COLUMN)) {
                Some((row, column)) => ((replicate - 1) * rows + row, column),
                None => {
                    let pass = next.entry(replicate).or_default();
                    *pass += 1;
                    (replicate, *pass)
                }
            };
        }
        plot.x_m = (plot.pass - 1) as f64 * plan.ground.plot_width_m;
        plot.y_m = (plot.range - 1) as f64 * (plan.ground.plot_length_m + plan.ground.alley_between_ranges_m);
    }
}
