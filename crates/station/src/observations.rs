//! Tables of observations, typing values in, corrections and their history.

use std::collections::HashMap;

use guardrow_store::{Entry, EntryFilter, EntryKind, Moment, NewEntry, NewIntake, Source, SourceKind, new_id};

use crate::dossier::Dossier;
use crate::error::ErrorKind;
use crate::observation::{NewNote, NewObservation, Observed};
use crate::station::{dossier, dossier_at, named, to_json, to_the_second, unreadable};
use crate::value::{DecimalSign, read_value};
use crate::{
    CellEntry, ObservationTable, Remark, SeasonNote, ShowObservations, Station, StationError, Status, TableRow,
    TypedValue, TypedValues, Weight,
};

impl Station {
    /// Observations of one event or all, now or as they were known at a moment: under the plan and on the layout of
    /// that time.
    ///
    /// # Errors
    /// When there is no such trial, layout or event, or was none at the moment; [`ErrorKind::Refused`] for a moment that
    /// is still to come.
    pub fn observations(&self, code: &str, request: &ShowObservations) -> Result<ObservationTable, StationError> {
        let trial = match request.as_of {
            None => self.dossier(code)?,
            Some(moment) => self.past_dossier(code, moment)?,
        };
        let observed = self.observed(&trial, request.as_of)?;
        let measures = match request.event.as_deref().filter(|event| !event.is_empty()) {
            None => (0..trial.measures.len()).collect(),
            Some(event) => measures_of(&trial, event)?,
        };
        table(&trial, &observed, request, &measures)
    }

    /// Records typed values, all of them or none.
    ///
    /// # Errors
    /// [`ErrorKind::Refused`] with a remark for every value that cannot be right, or that would change what is recorded
    /// without saying so; [`ErrorKind::Stale`] when a value to be corrected was corrected by somebody else.
    pub fn record(&self, code: &str, request: &TypedValues) -> Result<ObservationTable, StationError> {
        let by = named(&request.by)?;
        let trial = self.dossier(code)?;
        let laid = trial.laid()?;
        let observed = self.observed(&trial, None)?;
        let mut remarks = Vec::new();
        let mut entries = Vec::new();
        let now = self.now();
        for typed in &request.values {
            match checked(&trial, &observed, typed) {
                Err(remark) => remarks.push(remark),
                Ok(observation) => entries.push(NewEntry {
                    replaces: typed.replaces,
                    reason: Some(typed.reason.trim().to_owned()).filter(|_| typed.replaces.is_some()),
                    observed_at: request.observed_on.map(guardrow_store::Observed::On),
                    ..entry(&trial, laid.line.version, &observation, now, by, SourceKind::Screen.into())
                }),
            }
        }
        refuse_twice(request, &mut remarks);
        if !remarks.is_empty() {
            let what = match remarks.len() {
                1 => "one value cannot be recorded; nothing was".to_owned(),
                count => format!("{count} values cannot be recorded; nothing was"),
            };
            return Err(StationError::new(
                ErrorKind::Refused,
                what,
                "",
                "mend the values that are named, and save again",
            )
            .with_remarks(remarks));
        }
        self.store.append_entries(&entries, None)?;
        let trial = self.dossier(code)?;
        let observed = self.observed(&trial, None)?;
        let measures: Vec<usize> = (0..trial.measures.len())
            .filter(|&index| request.values.iter().any(|typed| typed.measure == trial.measures[index].key))
            .collect();
        table(&trial, &observed, &ShowObservations::default(), &measures)
    }

    /// Everything that was ever recorded for one measure on one plot, oldest first.
    ///
    /// # Errors
    /// When there is no such trial or measure.
    pub fn history(&self, code: &str, plot: u32, measure: &str) -> Result<Vec<CellEntry>, StationError> {
        let trial = self.dossier(code)?;
        let at = trial.measure(measure)?;
        let entries = self.store.history(trial.id, Some(plot), &trial.measures[at].key)?;
        let current = trial.laid.as_ref().map(|laid| laid.line.version);
        let told = entries.iter().map(|entry| {
            let mut told = cell_entry(entry);
            if let Some(version) = entry.layout_version.filter(|&version| current != Some(version)) {
                told.source.push_str(&format!(", on the plot of layout version {version}"));
            }
            told
        });
        Ok(told.collect())
    }

    fn past_dossier(&self, code: &str, moment: Moment) -> Result<Dossier, StationError> {
        let now = self.now();
        if moment > now {
            return Err(StationError::new(
                ErrorKind::Refused,
                format!("{} is still to come; nobody knows what will be recorded by then", to_the_second(moment)),
                "as_of",
                format!("choose a time before {}", to_the_second(now)),
            ));
        }
        let trial = self.store.read(|reading| dossier_at(reading, code, moment))?;
        if trial.laid.is_none() {
            return Err(StationError::new(
                ErrorKind::NotThere,
                format!("trial {code} had no layout yet at {}", to_the_second(moment)),
                "as_of",
                "choose a time after its first layout was drawn",
            ));
        }
        Ok(trial)
    }

    /// What is known of a trial's observations, now or at a moment. Values that were taken on the plots of another
    /// layout stay in the journal: the plot of the same number is another piece of ground there.
    pub(crate) fn observed(&self, trial: &Dossier, as_of: Option<Moment>) -> Result<Observed, StationError> {
        self.store.read(|reading| {
            let entries = reading.current_entries(trial.id, &EntryFilter::kind(EntryKind::Observation), as_of)?;
            Ok(observed(trial, &entries))
        })
    }

    /// Writes checked values of a file, with the record of the file, in one piece.
    pub(crate) fn append_observations(
        &self,
        code: &str,
        values: &[NewObservation],
        notes: &[NewNote],
        intake: &NewIntake,
        kind: SourceKind,
    ) -> Result<usize, StationError> {
        self.store.write(|writing| {
            let trial = dossier(writing, code)?;
            let version = trial.laid()?.line.version;
            let now = intake.accepted_at;
            let mut entries: Vec<NewEntry> = values
                .iter()
                .map(|value| NewEntry {
                    observed_at: value.observed_on.map(guardrow_store::Observed::On),
                    ..entry(&trial, version, value, now, &intake.by, source(kind, intake, &value.sheet, value.line))
                })
                .collect();
            entries.extend(notes.iter().map(|note| note_entry(&trial, note, intake, kind)));
            let written = writing.append_entries_side_by_side(&entries, Some(intake))?;
            Ok(written - notes.len())
        })
    }
}

fn source(kind: SourceKind, intake: &NewIntake, sheet: &Option<String>, line: usize) -> Source {
    Source {
        kind,
        file: Some(intake.file_name.clone()),
        sheet: sheet.clone(),
        line: Some(u32::try_from(line).unwrap_or(u32::MAX)),
    }
}

/// A note on a plot as an entry of the journal, in the shape that notes of the season have.
fn note_entry(trial: &Dossier, note: &NewNote, intake: &NewIntake, kind: SourceKind) -> NewEntry {
    let now = intake.accepted_at;
    let body = SeasonNote {
        kind: "note".to_owned(),
        on: note.on.unwrap_or_else(|| jiff::tz::Offset::UTC.to_datetime(now).date()),
        text: note.text.clone(),
        plots: vec![note.plot],
        by: intake.by.clone(),
    };
    let source = source(kind, intake, &note.sheet, note.line);
    NewEntry {
        body: Some(to_json(&body)),
        ..NewEntry::new(new_id(now), trial.id, EntryKind::Note, now, &intake.by, source)
    }
}

fn entry(
    trial: &Dossier,
    layout_version: u32,
    value: &NewObservation,
    now: Moment,
    by: &str,
    source: Source,
) -> NewEntry {
    let measure = &trial.measures[value.measure];
    NewEntry {
        layout_version: Some(layout_version),
        plot_number: Some(value.plot),
        measure: Some(measure.key.clone()),
        status: store_status(value.status),
        number: value.value,
        text: Some(value.text.clone()).filter(|_| value.status == Status::Value),
        unit: Some(measure.unit.symbol().to_owned()),
        ..NewEntry::new(new_id(now), trial.id, EntryKind::Observation, now, by, source)
    }
}

fn measures_of(trial: &Dossier, event: &str) -> Result<Vec<usize>, StationError> {
    let measures = trial.measures_of(event);
    if measures.is_empty() {
        let events: Vec<String> = trial.events().into_iter().map(str::to_owned).collect();
        return Err(StationError::new(
            ErrorKind::NotThere,
            format!("trial {} has no event “{event}”", trial.code()),
            "",
            format!("its events are {}", events.join(", ")),
        ));
    }
    Ok(measures)
}

fn table(
    trial: &Dossier,
    observed: &Observed,
    request: &ShowObservations,
    measures: &[usize],
) -> Result<ObservationTable, StationError> {
    let laid = trial.laid()?;
    let rows = laid.walk().filter_map(|plot| {
        let number = plot.number?;
        Some(TableRow {
            plot: number,
            replicate: plot.replicate.unwrap_or(1),
            treatment: plot.treatment.filter(|_| !request.blind).map(|index| trial.treatment_labels()[index].clone()),
            cells: measures.iter().map(|&measure| observed.at(number, measure).to_vec()).collect(),
        })
    });
    Ok(ObservationTable {
        event: request.event.clone().unwrap_or_default(),
        measures: measures.iter().map(|&index| trial.measures[index].clone()).collect(),
        rows: rows.collect(),
        as_of: request.as_of,
    })
}

/// Checks one typed value against the trial and against what is recorded.
fn checked(trial: &Dossier, observed: &Observed, typed: &TypedValue) -> Result<NewObservation, Remark> {
    let place = format!("plot {}, {}", typed.plot, typed.measure);
    let refuse =
        |what: String, try_this: String| Remark { weight: Weight::Refuse, place: place.clone(), what, try_this };
    let measure = trial.measure(&typed.measure).map_err(|error| refuse(error.what, error.try_this))?;
    if trial.treatment_of_plot(typed.plot).is_none() {
        return Err(refuse(format!("plot {} is not in the layout", typed.plot), trial.plot_numbers_in_words()));
    }
    let reading = read_value(&typed.text, &trial.measures[measure], DecimalSign::Either, trial.crop())
        .map_err(|trouble| refuse(trouble.what, trouble.try_this))?;
    let recorded = observed.at(typed.plot, measure);
    match typed.replaces {
        None if recorded.iter().any(|entry| entry.status != Status::NotYet) => {
            return Err(refuse(
                format!("{} is already recorded as “{}”", trial.measures[measure].name, recorded[0].text),
                "correct that entry, and say why".to_owned(),
            ));
        }
        Some(_) if typed.reason.trim().is_empty() => {
            return Err(refuse(
                "a correction needs a reason".to_owned(),
                "say why the recorded value was wrong".to_owned(),
            ));
        }
        Some(replaced) if !recorded.iter().any(|entry| entry.id == replaced) => {
            return Err(refuse(
                "the entry to be corrected is no longer the current one".to_owned(),
                "look at the cell again; somebody may have corrected it".to_owned(),
            ));
        }
        _ => {}
    }
    Ok(NewObservation {
        plot: typed.plot,
        measure,
        status: reading.status,
        value: reading.value,
        text: typed.text.trim().to_owned(),
        observed_on: None,
        sheet: None,
        line: 0,
    })
}

/// The same cell twice in one request, without one being the correction of the other, is a slip.
fn refuse_twice(request: &TypedValues, remarks: &mut Vec<Remark>) {
    let mut seen = HashMap::new();
    for typed in &request.values {
        if seen.insert((typed.plot, &typed.measure, typed.replaces), ()).is_some() {
            remarks.push(Remark {
                weight: Weight::Refuse,
                place: format!("plot {}, {}", typed.plot, typed.measure),
                what: "this cell comes twice".to_owned(),
                try_this: "keep one of the two values".to_owned(),
            });
        }
    }
}

/// Sorts current entries into cells. Entries of measures that the plan no longer names stay in the journal, unseen.
fn observed(trial: &Dossier, entries: &[Entry]) -> Observed {
    let index: HashMap<&str, usize> =
        trial.measures.iter().enumerate().map(|(at, measure)| (measure.key.as_str(), at)).collect();
    let layout = trial.laid.as_ref().map(|laid| laid.line.version);
    let mut observed = Observed::default();
    for entry in entries.iter().filter(|entry| entry.layout_version == layout) {
        let measure = entry.measure.as_deref().and_then(|key| index.get(key));
        if let (Some(plot), Some(&measure)) = (entry.plot_number, measure) {
            observed.add(plot, measure, cell_entry(entry));
        }
    }
    observed
}

fn cell_entry(entry: &Entry) -> CellEntry {
    let status = Status::from_stored(entry.status.word()).unwrap_or(Status::Lost);
    let text = match (status, &entry.text, entry.number) {
        (Status::Value, Some(text), _) => text.clone(),
        (Status::Value, None, Some(number)) => number.to_string(),
        (status, _, _) => status.word().to_owned(),
    };
    CellEntry {
        id: entry.id,
        status,
        value: entry.number,
        text,
        by: entry.by.clone(),
        recorded_at: entry.recorded_at,
        source: source_in_words(&entry.source),
        reason: entry.reason.clone(),
        replaces: entry.replaces,
    }
}

pub(crate) fn source_in_words(source: &Source) -> String {
    let mut words = match (&source.file, source.kind) {
        (Some(file), _) => file.clone(),
        (None, SourceKind::Screen) => "typed on screen".to_owned(),
        (None, SourceKind::Demo) => "invented for the demonstration".to_owned(),
        (None, kind) => kind.word().to_owned(),
    };
    if let Some(sheet) = &source.sheet {
        words.push_str(&format!(", sheet {sheet}"));
    }
    if let Some(line) = source.line {
        words.push_str(&format!(", line {line}"));
    }
    words
}

fn store_status(status: Status) -> guardrow_store::Status {
    status.stored().parse().expect("both lists have the same words; a test holds them together")
}

pub(crate) fn stored_json<T: serde::de::DeserializeOwned>(entry: &Entry) -> Result<T, StationError> {
    let body = entry.body.clone().ok_or_else(|| unreadable("entry", "it has no body"))?;
    serde_json::from_value(body).map_err(|error| unreadable("entry", error))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_kinds_of_empty_have_the_same_words_in_store_and_station() {
        for &stored in guardrow_store::Status::ALL {
            let status = Status::from_stored(stored.word()).expect("known here too");
            assert_eq!(store_status(status), stored);
        }
    }
}
