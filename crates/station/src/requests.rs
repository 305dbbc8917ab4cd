//! What a person asks of the use cases.

use serde::{Deserialize, Serialize};

/// A new trial, or a new version of a plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SavePlan {
    /// The plan, complete or not.
    pub plan: crate::Plan,
    /// The version that was edited; absent for a new trial.
    #[serde(default)]
    pub expected_version: Option<u32>,
    /// Who saves it.
    pub by: String,
    /// Why it changes; asked for once a layout was drawn.
    #[serde(default)]
    pub reason: String,
}

/// A request to draw a layout.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct DrawLayout {
    /// Who draws it.
    pub by: String,
    /// The seed in hexadecimal; a fresh one when absent.
    pub seed: Option<String>,
    /// Why it is drawn again; needed when a layout exists.
    pub reason: String,
}

/// How a map is shown.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema, utoipa::IntoParams)]
#[serde(default, deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ShowMap {
    /// Version of the layout; the latest when absent.
    pub version: Option<u32>,
    /// Without treatment names.
    pub blind: bool,
    /// Key of a measure that shades the plots.
    pub shade: Option<String>,
    /// `page` (default), or `phone` for a narrow screen.
    #[param(inline)]
    pub width: guardrow_publish::chart::Width,
}

/// A document to be made and kept in the publications folder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum DocumentKind {
    /// Plot map.
    Map,
    /// Field sheet on paper.
    FieldSheet,
    /// Field sheet as a workbook.
    FieldWorkbook,
    /// Packet labels.
    PacketLabels,
    /// Packing list.
    PackingList,
    /// Report.
    Report,
    /// Data package.
    DataPackage,
    /// Script for R with its data.
    RScript,
}

/// Options of a document.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct DocumentOptions {
    /// Who makes it.
    pub by: String,
    /// Event of a field sheet.
    pub event: Option<String>,
    /// Without treatment names.
    pub blind: bool,
    /// `a4` (default) or `letter`.
    pub paper: Option<String>,
}

/// Which observations to show.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema, utoipa::IntoParams)]
#[serde(default, deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ShowObservations {
    /// One event; all when absent.
    pub event: Option<String>,
    /// As they were known at this moment; now when absent.
    #[param(value_type = Option<String>)]
    #[schema(value_type = Option<String>)]
    pub as_of: Option<jiff::Timestamp>,
    /// Without treatment names.
    pub blind: bool,
}

/// A file that came in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IncomingFile {
    /// Its name, for the record.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// What a person found of the premise.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JudgePremise {
    /// Who judged.
    pub by: String,
    /// What was found.
    pub status: guardrow_findings::PremiseStatus,
    /// The evidence.
    pub evidence: String,
}

/// A lot as a person enters it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SaveLot {
    /// The lot.
    pub lot: crate::Lot,
    /// Who enters it.
    pub by: String,
    /// Why it changes; asked for when the lot is known.
    #[serde(default)]
    pub reason: String,
}
