//! Trials and their plans.

use std::sync::Arc;

use axum::extract::State;
use guardrow_station::{JudgePremise, Plan, PlanCheck, SavePlan, SeasonNote, Station, TrialView};

use crate::answer::{Answer, Document, Made, apart, ask};
use crate::fault::Fault;
use crate::reading::{Named, Told};

type Shared = State<Arc<Station>>;

/// Starts a trial from its plan, complete or not.
#[utoipa::path(post, path = "/api/trials", tag = "plan", request_body = SavePlan,
    responses((status = 201, description = "The trial as it now is.", body = TrialView)))]
pub async fn start(State(station): Shared, Told(wish): Told<SavePlan>) -> Result<Made<TrialView>, Fault> {
    ask(station, move |station| station.start_trial(&wish)).await.map(Made)
}

/// One trial with its plan, layout and progress.
#[utoipa::path(get, path = "/api/trials/{code}", tag = "plan",
    params(("code" = String, Path, description = "Code of the trial.")),
    responses((status = 200, description = "The trial.", body = TrialView)))]
pub async fn trial(State(station): Shared, Named(code): Named<String>) -> Result<Answer<TrialView>, Fault> {
    ask(station, move |station| station.trial(&code)).await.map(Answer)
}

/// Saves a new version of a plan; refused as stale when another was saved since `expected_version`.
#[utoipa::path(put, path = "/api/trials/{code}/plan", tag = "plan",
    params(("code" = String, Path, description = "Code of the trial.")), request_body = SavePlan,
    responses((status = 200, description = "The trial as it now is.", body = TrialView)))]
pub async fn save_plan(
    State(station): Shared,
    Named(code): Named<String>,
    Told(wish): Told<SavePlan>,
) -> Result<Answer<TrialView>, Fault> {
    ask(station, move |station| station.save_plan(&code, &wish)).await.map(Answer)
}

/// Checks a draft; nothing is kept.
#[utoipa::path(post, path = "/api/plan/check", tag = "plan", request_body = Plan,
    responses((status = 200, description = "What is missing or doubtful, and what can be told already.", body = PlanCheck)))]
pub async fn check_plan(State(station): Shared, Told(plan): Told<Plan>) -> Result<Answer<PlanCheck>, Fault> {
    apart(move || Ok(station.check_plan(&plan))).await.map(Answer)
}

/// The plan as a file that a person can read and the command line takes.
#[utoipa::path(get, path = "/api/trials/{code}/plan.toml", tag = "plan",
    params(("code" = String, Path, description = "Code of the trial.")),
    responses((status = 200, description = "The plan file.", body = String, content_type = "application/toml")))]
pub async fn plan_file(State(station): Shared, Named(code): Named<String>) -> Result<Document, Fault> {
    let name = format!("{}.toml", code.replace(['/', '\\'], "-"));
    let text = ask(station, move |station| station.plan_file(&code)).await?;
    Ok(Document { content_type: "application/toml", inline: false, name, bytes: text.into_bytes() })
}

/// Records what a person found of the premise.
#[utoipa::path(post, path = "/api/trials/{code}/premise", tag = "season",
    params(("code" = String, Path, description = "Code of the trial.")), request_body = JudgePremise,
    responses((status = 200, description = "The trial as it now is.", body = TrialView)))]
pub async fn judge_premise(
    State(station): Shared,
    Named(code): Named<String>,
    Told(judged): Told<JudgePremise>,
) -> Result<Answer<TrialView>, Fault> {
    ask(station, move |station| station.judge_premise(&code, &judged)).await.map(Answer)
}

/// Adds a note of the season: an operation, a deviation, an incident, the weather.
#[utoipa::path(post, path = "/api/trials/{code}/notes", tag = "season",
    params(("code" = String, Path, description = "Code of the trial.")), request_body = SeasonNote,
    responses((status = 200, description = "The trial as it now is.", body = TrialView)))]
pub async fn add_note(
    State(station): Shared,
    Named(code): Named<String>,
    Told(note): Told<SeasonNote>,
) -> Result<Answer<TrialView>, Fault> {
    ask(station, move |station| station.add_note(&code, &note)).await.map(Answer)
}
