//! What the pages and the command line show: the answers of the use cases.

use guardrow_agronomy::unit::Unit;
use guardrow_design::Layout;
use serde::{Deserialize, Serialize};

use crate::{Lot, Measure, Plan};

/// How grave a remark is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Weight {
    /// Worth knowing.
    Note,
    /// Probably wrong; a person should look.
    Warn,
    /// The next step is refused until it is mended.
    Refuse,
}

/// One remark on a plan, lot, table or file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Remark {
    /// How grave it is.
    pub weight: Weight,
    /// Where: a path in the plan (`question.links[1].measure`) or file, sheet, line, column.
    pub place: String,
    /// What is wrong.
    pub what: String,
    /// What to try.
    pub try_this: String,
}

/// The station and what is in it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct StationView {
    /// Name of the station.
    pub name: String,
    /// True when all data were invented for demonstration.
    pub invented: bool,
    /// All trials, newest season first.
    pub trials: Vec<TrialLine>,
    /// All seed lots.
    pub lots: Vec<Lot>,
}

/// One trial in a list.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct TrialLine {
    /// Code.
    pub code: String,
    /// Title.
    pub title: String,
    /// Crop year.
    pub season: i16,
    /// Crop.
    pub crop: String,
    /// How far it is.
    pub stage: Stage,
    /// What a person does next, in one sentence.
    pub next: String,
    /// The main verdict sentence when there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub answer: Option<String>,
}

/// How far a trial is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// The question or plan is incomplete.
    Asking,
    /// The plan is complete; no layout yet.
    Planned,
    /// Laid out, not locked.
    LaidOut,
    /// Packets or sheets were printed.
    InSeason,
    /// The primary measure is in.
    Observed,
}

/// One trial with its plan, layout and progress.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct TrialView {
    /// The latest plan.
    pub plan: Plan,
    /// Its version, from 1.
    pub plan_version: u32,
    /// Remarks on the plan, gravest first.
    pub remarks: Vec<Remark>,
    /// The degrees-of-freedom skeleton, when arrangement and treatments are sound.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub skeleton: Option<guardrow_design::Skeleton>,
    /// The method sentence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub method: Option<String>,
    /// The current layout.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layout: Option<LayoutView>,
    /// All versions of the layout, oldest first.
    pub layout_versions: Vec<LayoutLine>,
    /// How far it is.
    pub stage: Stage,
    /// What a person does next.
    pub next: String,
    /// Events with their measures and how many plots are done.
    pub events: Vec<EventLine>,
    /// The premise as judged; absent when not judged yet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub premise: Option<PremiseJudgement>,
    /// Notes of the season, oldest first.
    pub notes: Vec<SeasonNote>,
    /// Publications made so far, newest first.
    pub publications: Vec<PublicationLine>,
}

/// Answer to a check of a draft plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PlanCheck {
    /// Remarks, gravest first.
    pub remarks: Vec<Remark>,
    /// The degrees-of-freedom skeleton, when arrangement and treatments are sound.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub skeleton: Option<guardrow_design::Skeleton>,
    /// The method sentence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub method: Option<String>,
    /// Labels of all treatments, by number.
    pub treatments: Vec<String>,
    /// Number of plots.
    pub plots: usize,
    /// Margin of each claim in its measure's unit, in words, when it can be computed.
    pub margins: Vec<Option<String>>,
}

/// A layout with its draw.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct LayoutView {
    /// Version, draw and lock.
    pub line: LayoutLine,
    /// Treatment labels by index.
    pub treatments: Vec<String>,
    /// Every plot and guard plot.
    pub layout: Layout,
}

/// One version of a layout in a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct LayoutLine {
    /// Version from 1.
    pub version: u32,
    /// The seed, as printed on the plan.
    pub seed: String,
    /// Number of the drawing algorithm.
    pub algorithm: u32,
    /// When it was drawn (RFC 3339).
    #[schema(value_type = String)]
    pub drawn_at: jiff::Timestamp,
    /// Who drew it.
    pub by: String,
    /// Why it was drawn again; empty for the first.
    pub reason: String,
    /// What was printed that locked it, and when; absent while it is open.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub locked: Option<String>,
}

/// One event: what is observed on one walk.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct EventLine {
    /// Name of the event.
    pub event: String,
    /// Its measures.
    pub measures: Vec<Measure>,
    /// Plots that have every measure (a value or a kind of empty other than not yet).
    pub done: usize,
    /// Plots in all.
    pub plots: usize,
}

/// What was found of the premise, by a person.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PremiseJudgement {
    /// occurred, did_not_occur, cannot_tell
    pub status: guardrow_findings::PremiseStatus,
    /// The evidence, as typed.
    pub evidence: String,
    /// Who judged.
    pub by: String,
    /// When it was recorded.
    #[schema(value_type = String)]
    pub recorded_at: jiff::Timestamp,
    /// True when yields were already in the journal at that time.
    pub after_yields: bool,
}

/// A note of the season: an operation, a deviation, an incident, the weather.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SeasonNote {
    /// operation, deviation, incident, weather or note
    pub kind: String,
    /// Day it is about (ISO 8601).
    #[schema(value_type = String)]
    pub on: jiff::civil::Date,
    /// The note.
    pub text: String,
    /// Plots concerned; empty for the whole trial.
    #[serde(default)]
    pub plots: Vec<u32>,
    /// Who wrote it.
    pub by: String,
}

/// A publication that was made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PublicationLine {
    /// Kind of document.
    pub kind: String,
    /// File in the station's publications folder.
    pub file: String,
    /// When it was made.
    #[schema(value_type = String)]
    pub made_at: jiff::Timestamp,
}

/// The state of one plot's measure: a value or one of the kinds of empty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Status {
    /// A value was observed, zero included.
    Value,
    /// Nobody looked.
    NotSeen,
    /// It was taken and is lost.
    Lost,
    /// It cannot be taken on this plot.
    NotApplicable,
    /// It is still to come.
    NotYet,
}

/// One entry of the journal as a cell shows it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct CellEntry {
    /// Id of the entry.
    #[schema(value_type = String)]
    pub id: uuid::Uuid,
    /// Value or kind of empty.
    pub status: Status,
    /// The value in the measure's unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// As typed or written in the file.
    pub text: String,
    /// Who, and when it was recorded.
    pub by: String,
    /// When it was recorded.
    #[schema(value_type = String)]
    pub recorded_at: jiff::Timestamp,
    /// Where it came from, in words ("typed on screen", "stand.xlsx, sheet Stand, line 12").
    pub source: String,
    /// Reason, when it corrects an earlier entry.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Id of the entry that it corrects.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub replaces: Option<uuid::Uuid>,
}

/// One row of a table of observations.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct TableRow {
    /// Plot number.
    pub plot: u32,
    /// Replicate.
    pub replicate: usize,
    /// Treatment label; absent when the table is blind.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub treatment: Option<String>,
    /// One cell per measure: no entry, one entry, or several that disagree.
    pub cells: Vec<Vec<CellEntry>>,
}

/// Observations of some measures, now or as they were known at a moment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ObservationTable {
    /// Event, or all when empty.
    pub event: String,
    /// The measures, as columns.
    pub measures: Vec<Measure>,
    /// Plots in walking order.
    pub rows: Vec<TableRow>,
    /// The moment whose state this is; now when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub as_of: Option<jiff::Timestamp>,
}

/// One value that a person typed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TypedValue {
    /// Plot number.
    pub plot: u32,
    /// Key of the measure.
    pub measure: String,
    /// As typed: `12.5`, `12,5`, `12,5 kg`, or a kind of empty (`not seen`, `lost`, `not applicable`, `not yet`).
    pub text: String,
    /// Id of the entry that it corrects.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub replaces: Option<uuid::Uuid>,
    /// Why it is corrected.
    #[serde(default)]
    pub reason: String,
}

/// Values typed together; accepted whole or not at all.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TypedValues {
    /// Who typed.
    pub by: String,
    /// When it was observed (ISO 8601 day); today when absent.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub observed_on: Option<jiff::civil::Date>,
    /// The values.
    pub values: Vec<TypedValue>,
}

/// What was understood of a file before it is accepted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct IntakeReport {
    /// Name of the file.
    pub file: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// How it was read ("filled field sheet", "CSV, one row per plot, comma as decimal sign, semicolon between fields").
    pub read_as: String,
    /// What was guessed and should be looked at.
    pub guesses: Vec<String>,
    /// Values read, by measure key.
    pub counts: Vec<(String, usize)>,
    /// Every row with trouble; a file with a refused row is not accepted.
    pub remarks: Vec<Remark>,
    /// The first rows as understood, for a look.
    pub sample: Vec<IntakeRow>,
    /// True when nothing stands against accepting it.
    pub acceptable: bool,
    /// Entries written, when it was accepted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub accepted: Option<usize>,
}

/// One row of a file as it was understood.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct IntakeRow {
    /// Sheet and line, or line.
    pub place: String,
    /// Plot number.
    pub plot: u32,
    /// Key of the measure.
    pub measure: String,
    /// Value or kind of empty.
    pub status: Status,
    /// The value in the measure's unit.
    pub value: Option<f64>,
}

/// Packets of a trial in seeding order, and the need per lot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PacketsView {
    /// One line per plot.
    pub packets: Vec<PacketLine>,
    /// One line per lot.
    pub lots: Vec<LotNeed>,
    /// Remarks on lots and packets.
    pub remarks: Vec<Remark>,
}

/// The seed for one plot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PacketLine {
    /// Place in seeding order, from 1.
    pub sequence: usize,
    /// Plot number.
    pub plot: u32,
    /// Treatment label.
    pub treatment: String,
    /// Lot code.
    pub lot: String,
    /// Seeds, whole.
    pub seeds: u32,
    /// Grams, as weighed.
    pub grams: f64,
    /// Grams as shown.
    pub grams_shown: String,
    /// How it was computed, with the inputs.
    pub how: String,
}

/// What a lot has to give.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct LotNeed {
    /// Lot code.
    pub lot: String,
    /// Grams needed, reserve included.
    pub need_g: f64,
    /// Grams on hand, when known.
    pub on_hand_g: Option<f64>,
    /// Grams left after packing, when known; negative is a shortfall.
    pub left_g: Option<f64>,
}

/// One measure's yield arithmetic for one plot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct HarvestLine {
    /// Plot number.
    pub plot: u32,
    /// Treatment label.
    pub treatment: String,
    /// Yield as harvested, in the shown unit.
    pub raw: Option<f64>,
    /// Yield at standard moisture, in the shown unit.
    pub standard: Option<f64>,
    /// Why there is no yield, when there is none.
    pub why_not: String,
}

/// Yields of a trial, raw and standardised side by side.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct HarvestView {
    /// Unit that both are shown in.
    #[schema(value_type = String)]
    pub unit: Unit,
    /// Standard moisture in percent.
    pub standard_moisture_pct: f64,
    /// One line per plot.
    pub lines: Vec<HarvestLine>,
}
