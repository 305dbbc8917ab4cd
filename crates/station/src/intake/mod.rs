//! Files that come in: read, checked as a whole, reported row by row, accepted whole or not at all.

mod check;
mod csv_table;
pub(crate) mod field_workbook;
mod plot_note;
mod shape;
pub(crate) mod table;
mod workbook;

use std::collections::BTreeMap;

use guardrow_store::{NewIntake, Sha256, SourceKind, new_id};

use self::check::Checked;
use self::shape::{FoundValue, Shape};
use self::table::{LARGEST_FILE, Table, not_understood};
use crate::dossier::Dossier;
use crate::error::ErrorKind;
use crate::observation::Observed;
use crate::station::named;
use crate::{IncomingFile, IntakeReport, IntakeRow, Remark, Station, StationError, Weight};

/// How many rows of a file are shown as understood.
const SAMPLE: usize = 12;
/// How many remarks are listed; the rest are counted.
const MOST_REMARKS: usize = 200;

impl Station {
    /// Says how a file would be read, and what stands against accepting it. Nothing is written.
    ///
    /// # Errors
    /// [`ErrorKind::NotUnderstood`] when the file is no table at all.
    pub fn check_file(&self, code: &str, file: &IncomingFile) -> Result<IntakeReport, StationError> {
        let trial = self.dossier(code)?;
        let observed = self.observed(&trial, None)?;
        let (mut report, _, _) = look_at(&trial, &observed, file)?;
        self.remark_on_same_file(&trial, file, &mut report)?;
        Ok(report)
    }

    /// Accepts a file whole.
    ///
    /// # Errors
    /// [`ErrorKind::Refused`] with every row that stands against it; then nothing was written.
    pub fn accept_file(&self, code: &str, file: &IncomingFile, by: &str) -> Result<IntakeReport, StationError> {
        let by = named(by)?;
        let trial = self.dossier(code)?;
        let observed = self.observed(&trial, None)?;
        let (mut report, checked, kind) = look_at(&trial, &observed, file)?;
        self.remark_on_same_file(&trial, file, &mut report)?;
        if !report.acceptable {
            return Err(StationError::new(
                ErrorKind::Refused,
                format!("{} was not accepted; nothing of it was written", file.name),
                file.name.clone(),
                "mend the rows that are named, and bring the file again",
            )
            .with_remarks(report.remarks));
        }
        let now = self.now();
        let intake = NewIntake {
            id: new_id(now),
            trial_id: Some(trial.id),
            file_name: file.name.clone(),
            sha256: Sha256::of(&file.bytes),
            bytes: file.bytes.len() as u64,
            rows: u32::try_from(checked.observations.len()).unwrap_or(u32::MAX),
            accepted_at: now,
            by: by.to_owned(),
            repeat_reason: None,
        };
        report.accepted = Some(self.append_observations(code, &checked.observations, &checked.notes, &intake, kind)?);
        Ok(report)
    }

    fn remark_on_same_file(
        &self,
        trial: &Dossier,
        file: &IncomingFile,
        report: &mut IntakeReport,
    ) -> Result<(), StationError> {
        let known = self.store.find_intake_by_hash(Sha256::of(&file.bytes))?;
        if let Some(earlier) = known.iter().find(|intake| intake.trial_id == Some(trial.id)) {
            report.acceptable = false;
            report.remarks.insert(
                0,
                Remark {
                    weight: Weight::Refuse,
                    place: file.name.clone(),
                    what: format!(
                        "this file was accepted before, as {} by {}, {}",
                        earlier.file_name,
                        earlier.by,
                        crate::station::day(earlier.accepted_at)
                    ),
                    try_this: "there is nothing to do; to change a value, correct it in the table".to_owned(),
                },
            );
        }
        Ok(())
    }
}

fn look_at(
    trial: &Dossier,
    observed: &Observed,
    file: &IncomingFile,
) -> Result<(IntakeReport, Checked, SourceKind), StationError> {
    trial.laid()?;
    refuse_too_large(file)?;
    let sheets = if workbook::is_workbook(&file.bytes) {
        let mut workbook = workbook::Workbook::open(&file.name, &file.bytes)?;
        match field_workbook::tables(&mut workbook, &file.name, trial)? {
            Some(tables) => tables,
            None => vec![shaped(&file.name, workbook.first_table()?, trial)?],
        }
    } else {
        vec![shaped(&file.name, csv_table::read(&file.name, &file.bytes)?, trial)?]
    };
    let kind = if workbook::is_workbook(&file.bytes) { SourceKind::Spreadsheet } else { SourceKind::Csv };
    let mut all = Checked { notes: Vec::new(), observations: Vec::new(), remarks: Vec::new(), already_there: 0 };
    for (table, shape) in &sheets {
        let checked = check::check(&file.name, table, &shape.values, trial, observed);
        all.observations.extend(checked.observations);
        all.remarks.extend(checked.remarks);
        all.already_there += checked.already_there;
        let (notes, remarks) = plot_note::check(&file.name, table, &shape.notes, trial);
        all.notes.extend(notes);
        all.remarks.extend(remarks);
    }
    Ok((report(trial, file, &sheets, &mut all), all, kind))
}

fn shaped(file: &str, table: Table, trial: &Dossier) -> Result<(Table, Shape), StationError> {
    let shape = shape::shape(file, &table, &trial.measures)?;
    Ok((table, shape))
}

/// Reads a file of any kind as one table, for a trial that was laid out elsewhere.
pub(crate) fn read_table(file: &IncomingFile) -> Result<Table, StationError> {
    refuse_too_large(file)?;
    if workbook::is_workbook(&file.bytes) {
        workbook::Workbook::open(&file.name, &file.bytes)?.first_table()
    } else {
        csv_table::read(&file.name, &file.bytes)
    }
}

/// Checks the measure columns of a table that was laid out elsewhere.
pub(crate) fn check_table(trial: &Dossier, file: &IncomingFile, table: &Table, values: &[FoundValue]) -> Checked {
    check::check(&file.name, table, values, trial, &Observed::default())
}

pub(crate) use self::check::Checked as CheckedValues;
pub(crate) use self::shape::{FoundValue as TableValue, measure_named};

fn refuse_too_large(file: &IncomingFile) -> Result<(), StationError> {
    if file.bytes.len() <= LARGEST_FILE {
        return Ok(());
    }
    Err(not_understood(
        &file.name,
        format!("the file has {} MB; at most {} MB are looked at", file.bytes.len() >> 20, LARGEST_FILE >> 20),
        "bring one trial's observations at a time",
    ))
}

fn report(trial: &Dossier, file: &IncomingFile, sheets: &[(Table, Shape)], all: &mut Checked) -> IntakeReport {
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    for observation in &all.observations {
        *counts.entry(observation.measure).or_default() += 1;
    }
    let mut guesses: Vec<String> = sheets.iter().flat_map(|(table, _)| table.guesses.clone()).collect();
    guesses.extend(sheets.iter().flat_map(|(_, shape)| {
        shape
            .left_aside
            .iter()
            .map(|heading| format!("the column “{heading}” is no measure of this trial and is left aside"))
    }));
    if all.already_there > 0 {
        guesses.push(format!(
            "{} values are recorded already, the same to the last digit, and are not written again",
            all.already_there
        ));
    }
    match all.notes.len() {
        0 => {}
        1 => guesses.push("one note on a plot goes to the notes of the season".to_owned()),
        count => guesses.push(format!("{count} notes on plots go to the notes of the season")),
    }
    let mut remarks = std::mem::take(&mut all.remarks);
    let is_empty = all.observations.is_empty() && all.notes.is_empty() && all.already_there == 0;
    let acceptable = remarks.iter().all(|remark| remark.weight < Weight::Refuse) && !is_empty;
    if remarks.is_empty() && is_empty {
        remarks.push(Remark {
            weight: Weight::Refuse,
            place: file.name.clone(),
            what: "the file holds no value".to_owned(),
            try_this: "fill it in, or choose the filled copy".to_owned(),
        });
    }
    shorten(&mut remarks);
    IntakeReport {
        file: file.name.clone(),
        sha256: Sha256::of(&file.bytes).to_string(),
        read_as: sheets.iter().map(|(_, shape)| shape.read_as.clone()).collect::<Vec<_>>().join("; "),
        guesses,
        counts: counts.into_iter().map(|(measure, count)| (trial.measures[measure].key.clone(), count)).collect(),
        remarks,
        sample: all
            .observations
            .iter()
            .take(SAMPLE)
            .map(|observation| IntakeRow {
                place: match &observation.sheet {
                    Some(sheet) => format!("sheet {sheet}, line {}", observation.line),
                    None => format!("line {}", observation.line),
                },
                plot: observation.plot,
                measure: trial.measures[observation.measure].key.clone(),
                status: observation.status,
                value: observation.value,
            })
            .collect(),
        acceptable,
        accepted: None,
    }
}

/// Puts the gravest remarks first and counts those beyond what a person reads.
fn shorten(remarks: &mut Vec<Remark>) {
    remarks.sort_by_key(|remark| std::cmp::Reverse(remark.weight));
    let more = remarks.len().saturating_sub(MOST_REMARKS);
    if more > 0 {
        remarks.truncate(MOST_REMARKS);
        remarks.push(Remark {
            weight: Weight::Note,
            place: String::new(),
            what: format!("and {more} more rows"),
            try_this: "mend the first ones; the cause is often the same".to_owned(),
        });
    }
}
