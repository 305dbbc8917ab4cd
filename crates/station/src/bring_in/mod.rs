//! A trial that was laid out elsewhere: a plan file, and a table of plots with what was observed on them.

mod columns;
mod rows;

use guardrow_store::{LayoutLock, NewIntake, NewLayout, NewTrial, NewVersion, Sha256, SourceKind, new_id};
use uuid::Uuid;

use self::columns::Columns;
use crate::dossier::{Dossier, Laid};
use crate::error::ErrorKind;
use crate::intake::{CheckedValues, check_table, read_table};
use crate::layouts::stored_plots;
use crate::observation::Observed;
use crate::station::{named, to_json};
use crate::{CellEntry, IncomingFile, LayoutLine, Plan, Remark, Station, StationError, TrialView, Weight, check_plan};

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
    let layout = rows::layout(&columns, plan, file, &table)?;
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
