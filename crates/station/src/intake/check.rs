//! Checking found values against the trial: every row is looked at before any is accepted.

use std::collections::HashMap;

use guardrow_agronomy::unit::Unit;

use super::shape::FoundValue;
use super::table::{Cell, Table};
use crate::dossier::Dossier;
use crate::observation::{NewNote, NewObservation, Observed};
use crate::spelling::near;
use crate::value::{DecimalSign, Trouble, check_value, read_value};
use crate::{Remark, Status, Weight};

/// Values that fit the trial, and a remark for every row that does not or should be looked at.
pub(crate) struct Checked {
    /// Notes that would be written.
    pub notes: Vec<NewNote>,
    /// What would be written.
    pub observations: Vec<NewObservation>,
    /// Remarks, in the order of the file.
    pub remarks: Vec<Remark>,
    /// Values that the journal already holds, equal to the last digit.
    pub already_there: usize,
}

/// Checks all values of a table against the trial and what is already recorded.
pub(crate) fn check(file: &str, table: &Table, values: &[FoundValue], trial: &Dossier, known: &Observed) -> Checked {
    let mut checker = Checker {
        file,
        table,
        trial,
        known,
        sign: if table.decimal_comma { DecimalSign::Comma } else { DecimalSign::Point },
        seen: HashMap::with_capacity(values.len()),
        units: HashMap::new(),
        out: Checked {
            notes: Vec::new(),
            observations: Vec::with_capacity(values.len()),
            remarks: Vec::new(),
            already_there: 0,
        },
    };
    for value in values {
        if let Err(trouble) = checker.take(value) {
            checker.remark(value, trouble);
        }
    }
    checker.out
}

struct Checker<'a> {
    file: &'a str,
    table: &'a Table,
    trial: &'a Dossier,
    known: &'a Observed,
    sign: DecimalSign,
    /// Line on which a plot's measure was first seen.
    seen: HashMap<(u32, usize), usize>,
    /// Units written in the file, looked up once.
    units: HashMap<String, Result<Unit, Trouble>>,
    out: Checked,
}

impl Checker<'_> {
    fn take(&mut self, found: &FoundValue) -> Result<(), Trouble> {
        let plot = self.plot(found)?;
        self.treatment(found, plot)?;
        let measure = self.measure(found)?;
        if let Some(first) = self.seen.insert((plot, measure), found.line) {
            return Err(refuse(
                format!("plot {plot} has {} twice; the first is on line {first}", self.trial.measures[measure].name),
                "keep the right one, and delete the other from the file",
            ));
        }
        let observed_on = self.day(found)?;
        let reading = self.reading(found, measure)?;
        if let Some(trouble) = reading.remark.clone() {
            self.remark(found, trouble);
        }
        let observation = NewObservation {
            plot,
            measure,
            status: reading.status,
            value: reading.value,
            text: found.value.text(),
            observed_on,
            sheet: self.table.sheet.clone(),
            line: found.line,
        };
        self.beside_what_is_known(found, observation);
        Ok(())
    }

    fn plot(&self, found: &FoundValue) -> Result<u32, Trouble> {
        let number = match &found.plot {
            Cell::Number(number) if number.fract() == 0.0 && *number >= 0.0 => Some(*number as u32),
            Cell::Text(text) => text.parse().ok(),
            _ => None,
        };
        let number = number.ok_or_else(|| {
            refuse(
                format!("“{}” is not a plot number", found.plot.text()),
                "write the number from the plot map, such as 101",
            )
        })?;
        match self.trial.treatment_of_plot(number) {
            Some(_) => Ok(number),
            None => Err(refuse(
                format!("plot {number} is not in the layout of trial {}", self.trial.code()),
                self.trial.plot_numbers_in_words(),
            )),
        }
    }

    fn treatment(&self, found: &FoundValue, plot: u32) -> Result<(), Trouble> {
        let Some(written) = &found.treatment else { return Ok(()) };
        let right = self.trial.treatment_of_plot(plot).expect("the plot was found before");
        let labels = self.trial.treatment_labels();
        if written.eq_ignore_ascii_case(&labels[right]) {
            return Ok(());
        }
        match labels.iter().find(|label| written.eq_ignore_ascii_case(label)) {
            Some(other) => Err(refuse(
                format!("plot {plot} has the treatment “{}” in the layout, not “{other}”", labels[right]),
                "check that the rows did not slip against the plot numbers",
            )),
            None => Err(refuse(
                format!("“{written}” is not a treatment of this trial"),
                near(written, labels).map_or_else(
                    || format!("in the layout plot {plot} has “{}”", labels[right]),
                    |label| format!("did you mean “{label}”?"),
                ),
            )),
        }
    }

    fn measure(&self, found: &FoundValue) -> Result<usize, Trouble> {
        found.measure.clone().map_err(|name| {
            let keys: Vec<String> = self.trial.measures.iter().map(|measure| measure.key.clone()).collect();
            refuse(
                format!("“{name}” is not a measure of this trial"),
                near(&name, &keys).map_or_else(
                    || format!("its measures are {}", keys.join(", ")),
                    |key| format!("did you mean “{key}”?"),
                ),
            )
        })
    }

    fn day(&self, found: &FoundValue) -> Result<Option<jiff::civil::Date>, Trouble> {
        match &found.day {
            None => Ok(None),
            Some(Cell::Day(day)) => Ok(Some(*day)),
            Some(cell) => cell.text().parse().map(Some).map_err(|_| {
                refuse(format!("“{}” is not a day", cell.text()), "write days as year-month-day, such as 2026-06-30")
            }),
        }
    }

    fn reading(&mut self, found: &FoundValue, measure: usize) -> Result<crate::value::Reading, Trouble> {
        let measure = &self.trial.measures[measure];
        let crop = self.trial.crop();
        match (&found.value, &found.unit) {
            (Cell::Number(number), None) => check_value(*number, measure),
            (value, None) => read_value(&value.text(), measure, self.sign, crop),
            (value, Some(unit)) => {
                let known = self
                    .units
                    .entry(unit.clone())
                    .or_insert_with(|| Unit::parse(unit).map_err(|error| refuse(error.to_string(), error.help())));
                let given = known.clone()?;
                if given == measure.unit {
                    return match value {
                        Cell::Number(number) => check_value(*number, measure),
                        value => read_value(&value.text(), measure, self.sign, crop),
                    };
                }
                if crate::value::kind_of_empty(&value.text()).is_some() {
                    return read_value(&value.text(), measure, self.sign, crop);
                }
                let sign = if matches!(value, Cell::Number(_)) { DecimalSign::Point } else { self.sign };
                read_value(&format!("{} {unit}", value.text()), measure, sign, crop)
            }
        }
    }

    /// A cell that is already recorded with the same value is left as it is; another value is written beside it.
    fn beside_what_is_known(&mut self, found: &FoundValue, observation: NewObservation) {
        let recorded = self.known.at(observation.plot, observation.measure);
        let same = |entry: &crate::CellEntry| (entry.status, entry.value) == (observation.status, observation.value);
        if recorded.iter().any(same) {
            self.out.already_there += 1;
            return;
        }
        // A cell that was said to be still to come is simply filled.
        if recorded.iter().any(|entry| entry.status != Status::NotYet) {
            let name = &self.trial.measures[observation.measure].name;
            let earlier = recorded.iter().map(|entry| entry.text.clone()).collect::<Vec<_>>().join(" and ");
            self.remark(
                found,
                Trouble {
                    weight: Weight::Warn,
                    what: format!(
                        "plot {} already has {name} “{earlier}”; this file says “{}”",
                        observation.plot, observation.text
                    ),
                    try_this: "both will stand side by side until a person corrects one of them".to_owned(),
                },
            );
        }
        self.out.observations.push(observation);
    }

    /// What is wrong with a whole row, its plot or treatment, is told once and not for each of its values.
    fn remark(&mut self, found: &FoundValue, trouble: Trouble) {
        let place = self.table.place(self.file, found.line);
        let told = |last: &Remark| last.what == trouble.what && last.place.starts_with(&format!("{place}, column "));
        if self.out.remarks.last().is_some_and(told) {
            return;
        }
        self.out.remarks.push(Remark {
            weight: trouble.weight,
            place: format!("{place}, column {}", found.column),
            what: trouble.what,
            try_this: trouble.try_this,
        });
    }
}

fn refuse(what: String, try_this: impl Into<String>) -> Trouble {
    Trouble { weight: Weight::Refuse, what, try_this: try_this.into() }
}
