//! Who, where, when: the head of a report.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A person or partner named on a document.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[schema(as = ReportPerson)]
pub struct Person {
    /// Name as it is to be printed.
    pub name: String,
    /// What they did: `trial lead`, `funder`, `seed counting`. May be empty.
    #[serde(default)]
    pub role: String,
}

/// How far the document may be relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Data or decisions are still missing; the stamp is printed in the warm accent.
    #[default]
    Draft,
    /// Complete.
    Final,
    /// Made before harvest or from an incomplete season; never a result.
    InSeason,
}

/// The stamp at the head of the report.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct Stamp {
    /// How far the document may be relied on.
    pub standing: Standing,
    /// The words printed: `Draft: 3 plots not yet weighed`.
    pub text: String,
}

/// The head of a report.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[schema(as = ReportHeading)]
pub struct Heading {
    /// Title of the trial.
    pub title: String,
    /// The trial's code.
    pub trial_code: String,
    /// The station's name.
    pub station: String,
    /// The season's name: `2031`, `2031-32`.
    pub season: String,
    /// Site, in words; with soil when known.
    pub site: String,
    /// Crop.
    pub crop: String,
    /// People and partners.
    #[serde(default)]
    pub people: Vec<Person>,
    /// Day the report was prepared, as it is to be printed.
    pub prepared_on: String,
    /// The status stamp.
    pub stamp: Stamp,
}
