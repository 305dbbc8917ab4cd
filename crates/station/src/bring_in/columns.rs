//! Where in a table everything stands.

use guardrow_design::PLOT;

use crate::dossier::Dossier;
use crate::intake::table::{Cell, Table, not_understood};
use crate::intake::{TableValue, measure_named};
use crate::spelling::near;
use crate::{IncomingFile, Plan, StationError, TableColumns};

/// The columns of a table, by their place in it.
pub(super) struct Columns {
    pub plot: Option<usize>,
    pub treatment: Option<usize>,
    pub factors: Vec<Option<usize>>,
    /// The units of the arrangement, outermost first; the smallest, where each row is one of its own, is left out.
    pub units: Vec<UnitColumn>,
    pub range: Option<usize>,
    pub pass: Option<usize>,
    measures: Vec<(usize, usize)>,
}

/// One kind of unit and where its label stands.
pub(super) struct UnitColumn {
    pub unit: String,
    /// Its column; without one the label is made of the levels of the factors that were randomised to it.
    pub column: Option<usize>,
    /// Indices of those factors.
    pub factors: Vec<usize>,
}

impl Columns {
    pub(super) fn find(plan: &Plan, file: &IncomingFile, table: &Table) -> Result<Columns, StationError> {
        let names = plan.table.clone().unwrap_or_default();
        let named = |name: &Option<String>, usual: &str| column(file, table, name.as_deref(), usual);
        let columns = Columns {
            plot: named(&names.plot, "plot")?,
            treatment: named(&names.treatment, "treatment")?,
            factors: factor_columns(plan, &names, file, table)?,
            units: unit_columns(plan, &names, file, table)?,
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
        if let Some(unit) = self.units.iter().find(|unit| unit.column.is_none() && unit.factors.is_empty()) {
            return Err(no_unit_column(&unit.unit, is_replicate(plan, &unit.unit), file));
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

    /// The measure cells of all rows, with the plot number that each row was given.
    pub(super) fn values(&self, trial: &Dossier, table: &Table) -> Vec<TableValue> {
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

    /// Whether the plot column names a unit that holds several rows, so that rows are numbered by themselves.
    pub(super) fn plots_hold_several_rows(&self) -> bool {
        self.units.iter().any(|unit| unit.unit == PLOT)
    }
}

fn no_unit_column(unit: &str, is_replicate: bool, file: &IncomingFile) -> StationError {
    if is_replicate {
        return not_understood(
            &file.name,
            "no column holds the replicate, and the arrangement has replicates",
            "name the column in the plan file: [table] replicate = \"...\"",
        );
    }
    not_understood(
        &file.name,
        format!("no column holds the {unit}, and the arrangement has such units"),
        format!("name the column in the plan file: [table] units = {{ \"{unit}\" = \"...\" }}"),
    )
}

/// Whether this unit is the one that holds all others.
pub(super) fn is_replicate(plan: &Plan, unit: &str) -> bool {
    plan.arrangement.block_structure(&plan.treatments).outermost() == Some(unit)
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

/// The units that rows must tell: all but the smallest of a nesting, of which each row is one.
fn unit_columns(
    plan: &Plan,
    names: &TableColumns,
    file: &IncomingFile,
    table: &Table,
) -> Result<Vec<UnitColumn>, StationError> {
    let structure = plan.arrangement.block_structure(&plan.treatments);
    let strata = structure.strata();
    let innermost = strata.last().map(|stratum| stratum.name.clone()).unwrap_or_default();
    let unknown = names.units.keys().find(|unit| !structure.units().contains(unit));
    if let Some(unit) = unknown {
        return Err(not_understood(
            &file.name,
            format!("the plan names a column for “{unit}”, but the units of the arrangement are {structure}"),
            "use the names of the units as the arrangement spells them",
        ));
    }
    let mut units = Vec::new();
    for unit in structure.units().into_iter().filter(|unit| *unit != innermost) {
        let column = match names.units.get(&unit) {
            Some(name) => column(file, table, Some(name), &unit)?,
            None if unit == PLOT => column(file, table, names.plot.as_deref(), PLOT)?,
            None if is_replicate(plan, &unit) => match column(file, table, names.replicate.as_deref(), "replicate")? {
                Some(found) => Some(found),
                None => column(file, table, None, &unit)?,
            },
            None => column(file, table, None, &unit)?,
        };
        let factors = plan.arrangement.factors_on(&unit, &plan.treatments);
        units.push(UnitColumn { unit, column, factors });
    }
    Ok(units)
}
