//! Notes of the season, and the premise as a person judged it.

use guardrow_store::{Entry, EntryFilter, EntryKind, NewEntry, SourceKind, new_id};
use serde::{Deserialize, Serialize};

use crate::dossier::Dossier;
use crate::error::ErrorKind;
use crate::observations::stored_json;
use crate::station::{named, to_json};
use crate::{JudgePremise, PremiseJudgement, SeasonNote, Station, StationError, TrialView};

/// What a note may be about.
const NOTE_KINDS: [&str; 5] = ["operation", "deviation", "incident", "weather", "note"];

/// A judgement of the premise as the journal holds it.
#[derive(Serialize, Deserialize)]
struct StoredJudgement {
    status: guardrow_findings::PremiseStatus,
    evidence: String,
    after_yields: bool,
}

impl Station {
    /// Records what was found of the premise. A later judgement does not replace an earlier one: it is an amendment.
    ///
    /// # Errors
    /// When the trial has no premise, or no evidence is given.
    pub fn judge_premise(&self, code: &str, request: &JudgePremise) -> Result<TrialView, StationError> {
        let by = named(&request.by)?;
        let trial = self.dossier(code)?;
        if trial.plan.question.premise.is_none() {
            return Err(StationError::new(
                ErrorKind::Refused,
                "the question of this trial has no premise",
                "question.premise",
                "write the premise into the question first, if the answer depends on one",
            ));
        }
        if request.status == guardrow_findings::PremiseStatus::NoneNeeded {
            return Err(StationError::new(
                ErrorKind::Refused,
                "the question of this trial has a premise, so a judgement cannot be that none is needed",
                "field status",
                "choose occurred, did not occur or cannot tell, or take the premise out of the question",
            ));
        }
        if request.evidence.trim().is_empty() {
            return Err(StationError::new(
                ErrorKind::Refused,
                "the judgement names no evidence",
                "field evidence",
                "write what was read, where and when: logger, depth, hours, values",
            ));
        }
        let body = StoredJudgement {
            status: request.status,
            evidence: request.evidence.trim().to_owned(),
            after_yields: self.observed(&trial, None)?.has_primary(&trial),
        };
        self.append_body(&trial, EntryKind::Premise, &body, by)?;
        self.trial(code)
    }

    /// Records a note of the season.
    ///
    /// # Errors
    /// When it is empty, of an unknown kind, or names a plot that is not in the layout.
    pub fn add_note(&self, code: &str, note: &SeasonNote) -> Result<TrialView, StationError> {
        let by = named(&note.by)?;
        let trial = self.dossier(code)?;
        if note.text.trim().is_empty() {
            return Err(StationError::new(
                ErrorKind::Refused,
                "the note is empty",
                "field text",
                "write what happened",
            ));
        }
        if !NOTE_KINDS.contains(&note.kind.as_str()) {
            return Err(StationError::new(
                ErrorKind::Refused,
                format!("“{}” is not a kind of note", note.kind),
                "field kind",
                format!("choose one of {}", NOTE_KINDS.join(", ")),
            ));
        }
        if let Some(plot) = note.plots.iter().find(|&&plot| trial.treatment_of_plot(plot).is_none()) {
            return Err(StationError::new(
                ErrorKind::Refused,
                format!("plot {plot} is not in the layout"),
                "field plots",
                trial.plot_numbers_in_words(),
            ));
        }
        let kind = if note.kind == "operation" { EntryKind::Operation } else { EntryKind::Note };
        self.append_body(&trial, kind, note, by)?;
        self.trial(code)
    }

    pub(crate) fn notes(&self, trial: &Dossier) -> Result<Vec<SeasonNote>, StationError> {
        let filter = EntryFilter { kinds: vec![EntryKind::Operation, EntryKind::Note], ..EntryFilter::default() };
        let entries = self.store.current_entries(trial.id, &filter, None)?;
        let mut notes = entries.iter().map(stored_json::<SeasonNote>).collect::<Result<Vec<_>, _>>()?;
        notes.sort_by_key(|note| note.on);
        Ok(notes)
    }

    /// The latest judgement of the premise.
    pub(crate) fn premise_of(&self, trial: &Dossier) -> Result<Option<PremiseJudgement>, StationError> {
        let entries = self.store.current_entries(trial.id, &EntryFilter::kind(EntryKind::Premise), None)?;
        entries.last().map(judgement).transpose()
    }

    fn append_body<T: Serialize>(
        &self,
        trial: &Dossier,
        kind: EntryKind,
        body: &T,
        by: &str,
    ) -> Result<(), StationError> {
        let now = self.now();
        let mut entry = NewEntry::new(new_id(now), trial.id, kind, now, by, SourceKind::Screen.into());
        entry.body = Some(to_json(body));
        self.store.append_entries(&[entry], None)?;
        Ok(())
    }
}

fn judgement(entry: &Entry) -> Result<PremiseJudgement, StationError> {
    let stored: StoredJudgement = stored_json(entry)?;
    Ok(PremiseJudgement {
        status: stored.status,
        evidence: stored.evidence,
        by: entry.by.clone(),
        recorded_at: entry.recorded_at,
        after_yields: stored.after_yields,
    })
}
