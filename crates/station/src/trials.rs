//! Starting a trial, changing its plan, and looking at it.

use guardrow_store::{NewTrial, NewVersion, new_id};

use crate::dossier::Dossier;
use crate::error::ErrorKind;
use crate::observation::Observed;
use crate::station::{dossier, named, to_json};
use crate::{
    EventLine, LayoutView, Plan, PlanCheck, Remark, SavePlan, Stage, Station, StationError, TrialLine, TrialView,
    Weight, check_plan, write_plan_file,
};

impl Station {
    /// Starts a trial with a plan that may still be incomplete.
    ///
    /// # Errors
    /// When it has no code, or the code is taken.
    pub fn start_trial(&self, request: &SavePlan) -> Result<TrialView, StationError> {
        let by = named(&request.by)?;
        let code = &request.plan.trial.code;
        refuse_bad_code(&request.plan)?;
        let now = self.now();
        let id = new_id(now);
        self.store.write(|writing| {
            writing.create_trial(&NewTrial { id, code: code.clone(), created_at: now, by: by.to_owned() })?;
            writing.append_plan(id, 0, &new_plan(&request.plan, now, by, &request.reason))?;
            Ok::<_, StationError>(())
        })?;
        self.trial(code)
    }

    /// Records a new version of a trial's plan.
    ///
    /// # Errors
    /// [`ErrorKind::Stale`] when somebody else changed it, [`ErrorKind::Locked`] when what is already printed would no
    /// longer be true and no reason is given.
    pub fn save_plan(&self, code: &str, request: &SavePlan) -> Result<TrialView, StationError> {
        let by = named(&request.by)?;
        refuse_bad_code(&request.plan)?;
        let now = self.now();
        self.store.write(|writing| {
            let trial = dossier(writing, code)?;
            refuse_other_code(&trial, &request.plan)?;
            refuse_change_of_what_is_printed(&trial, request)?;
            let expected = request.expected_version.unwrap_or(trial.plan_version);
            if trial.plan != request.plan {
                writing.append_plan(trial.id, expected, &new_plan(&request.plan, now, by, &request.reason))?;
            }
            Ok::<_, StationError>(())
        })?;
        self.trial(code)
    }

    /// Looks a draft over without storing it.
    pub fn check_plan(&self, plan: &Plan) -> PlanCheck {
        check_plan(plan)
    }

    /// The plan file of a trial.
    ///
    /// # Errors
    /// When there is no such trial.
    pub fn plan_file(&self, code: &str) -> Result<String, StationError> {
        Ok(write_plan_file(&self.dossier(code)?.plan))
    }

    /// Everything about one trial.
    ///
    /// # Errors
    /// When there is no such trial.
    pub fn trial(&self, code: &str) -> Result<TrialView, StationError> {
        let trial = self.dossier(code)?;
        let observed = self.observed(&trial, None)?;
        let premise = self.premise_of(&trial)?;
        let mut check = check_plan(&trial.plan);
        if let Some(remark) = layout_is_behind(&trial) {
            check.remarks.insert(0, remark);
        }
        let stage = stage(&trial, &observed, &check.remarks);
        Ok(TrialView {
            next: next_step(&trial, stage, premise.is_some(), &check.remarks),
            events: event_lines(&trial, &observed),
            layout: trial.laid.as_ref().map(|laid| LayoutView {
                line: laid.line.clone(),
                treatments: trial.treatment_labels().to_vec(),
                layout: laid.layout.clone(),
            }),
            layout_versions: self.layout_lines(&trial)?,
            notes: self.notes(&trial)?,
            publications: self.publications_of(&trial)?,
            remarks: check.remarks,
            skeleton: check.skeleton,
            method: check.method,
            plan_version: trial.plan_version,
            plan: trial.plan,
            stage,
            premise,
        })
    }

    pub(crate) fn trial_lines(&self) -> Result<Vec<TrialLine>, StationError> {
        let mut lines = Vec::new();
        for stored in self.store.trials()? {
            lines.push(self.trial_line(&stored.code)?);
        }
        lines.sort_by(|one, other| other.season.cmp(&one.season).then_with(|| one.code.cmp(&other.code)));
        Ok(lines)
    }

    fn trial_line(&self, code: &str) -> Result<TrialLine, StationError> {
        let trial = self.dossier(code)?;
        let observed = self.observed(&trial, None)?;
        let remarks = check_plan(&trial.plan).remarks;
        let stage = stage(&trial, &observed, &remarks);
        let judged = self.premise_of(&trial)?.is_some();
        let answer = match stage {
            Stage::Observed => self.answer(&trial, &observed),
            _ => None,
        };
        let head = &trial.plan.trial;
        Ok(TrialLine {
            code: head.code.clone(),
            title: head.title.clone(),
            season: head.season,
            crop: head.crop.clone(),
            stage,
            next: next_step(&trial, stage, judged, &remarks),
            answer,
        })
    }
}

fn new_plan(plan: &Plan, now: guardrow_store::Moment, by: &str, reason: &str) -> NewVersion {
    let reason = Some(reason.trim().to_owned()).filter(|reason| !reason.is_empty());
    NewVersion { body: to_json(plan), recorded_at: now, by: by.to_owned(), reason }
}

/// A trial cannot be stored without a usable code; all else may come later.
fn refuse_bad_code(plan: &Plan) -> Result<(), StationError> {
    let bad = check_plan(plan)
        .remarks
        .into_iter()
        .find(|remark| remark.weight == Weight::Refuse && remark.place == "trial.code");
    match bad {
        Some(remark) => Err(StationError::new(ErrorKind::Refused, remark.what, remark.place, remark.try_this)),
        None => Ok(()),
    }
}

fn refuse_other_code(trial: &Dossier, plan: &Plan) -> Result<(), StationError> {
    if trial.code() == plan.trial.code {
        return Ok(());
    }
    Err(StationError::new(
        ErrorKind::Refused,
        format!("the plan has the code “{}”, the trial is “{}”", plan.trial.code, trial.code()),
        "trial.code",
        "a code cannot change, since it stands on sheets and packets; start another trial",
    ))
}

fn refuse_change_of_what_is_printed(trial: &Dossier, request: &SavePlan) -> Result<(), StationError> {
    let Some(laid) = &trial.laid else { return Ok(()) };
    let Some(locked) = &laid.line.locked else { return Ok(()) };
    let plan = &request.plan;
    let same =
        laid.treatments == plan.treatments && laid.arrangement == plan.arrangement && trial.plan.ground == plan.ground;
    if same || !request.reason.trim().is_empty() {
        return Ok(());
    }
    Err(StationError::new(
        ErrorKind::Locked,
        format!("treatments, arrangement and plot sizes are locked, since the layout was used ({locked})"),
        "treatments, arrangement, ground",
        "give a reason if it must change; the layout is then drawn again as a new version, and the old one stays readable",
    ))
}

/// Says when the plan has moved on since the layout was drawn.
fn layout_is_behind(trial: &Dossier) -> Option<Remark> {
    let laid = trial.laid.as_ref()?;
    let plan = &trial.plan;
    let behind = laid.treatments != plan.treatments
        || laid.arrangement != plan.arrangement
        || (laid.layout.ground != plan.ground && laid.line.algorithm != 0);
    behind.then(|| Remark {
        weight: Weight::Warn,
        place: "layout".to_owned(),
        what: format!(
            "the layout was drawn from version {} of the plan; treatments, arrangement or plot sizes have changed since",
            laid.plan_version
        ),
        try_this: "draw the layout again; records stay with the plots that they were taken on".to_owned(),
    })
}

fn stage(trial: &Dossier, observed: &Observed, remarks: &[Remark]) -> Stage {
    match &trial.laid {
        None if remarks.iter().any(keeps_asking) => Stage::Asking,
        None => Stage::Planned,
        Some(_) if observed.has_primary(trial) => Stage::Observed,
        Some(laid) if laid.line.locked.is_some() => Stage::InSeason,
        Some(_) => Stage::LaidOut,
    }
}

/// What must be settled before the plan counts as made; few error df or an unmeasured rival may be lived with.
fn keeps_asking(remark: &Remark) -> bool {
    let open = ["question.decision", "question.claims", "measures"].contains(&remark.place.as_str());
    remark.weight == Weight::Refuse || (remark.weight == Weight::Warn && open)
}

fn next_step(trial: &Dossier, stage: Stage, judged: bool, remarks: &[Remark]) -> String {
    match stage {
        Stage::Asking => match remarks.first() {
            Some(remark) => format!("Finish the plan: {}.", remark.what),
            None => "Finish the plan.".to_owned(),
        },
        Stage::Planned => "Draw the layout.".to_owned(),
        Stage::LaidOut if trial.plan.supply.is_some() => {
            "Look the map over, then print packet labels and pack the seed.".to_owned()
        }
        Stage::LaidOut => "Look the map over, then print the first field sheet.".to_owned(),
        Stage::InSeason => "Observe, and type or read the sheets back.".to_owned(),
        Stage::Observed if trial.plan.question.premise.is_some() && !judged => {
            "Judge whether the premise occurred.".to_owned()
        }
        Stage::Observed => "Read the findings, then make the report.".to_owned(),
    }
}

fn event_lines(trial: &Dossier, observed: &Observed) -> Vec<EventLine> {
    let numbers: Vec<u32> =
        trial.laid.iter().flat_map(|laid| laid.layout.plots.iter().filter_map(|plot| plot.number)).collect();
    trial
        .events()
        .into_iter()
        .map(|event| {
            let measures = trial.measures_of(event);
            let done = |&&plot: &&u32| measures.iter().all(|&measure| observed.is_done(plot, measure));
            EventLine {
                event: event.to_owned(),
                measures: measures.iter().map(|&index| trial.measures[index].clone()).collect(),
                done: numbers.iter().filter(done).count(),
                plots: numbers.len(),
            }
        })
        .collect()
}
