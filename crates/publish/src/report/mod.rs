//! The trial report: one value that makes the page and the print.
//!
//! All text is finished and all numbers are rounded by whoever fills the report; charts carry their raw numbers and
//! their drawing. A renderer needs to know headings, paragraphs, [`Table`] and [`Figure`], nothing else.

mod finding;
mod heading;
mod question;
mod response;
mod season;
mod table;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

pub use finding::{Finding, Verdict, VerdictKind};
pub use heading::{Heading, Person, Stamp, Standing};
pub use question::{ChainLink, Premise, PremiseStatus, Question, chain_table};
pub use response::{Beside, Looking, MeanRow, Notice, NoticeLevel, ResponseReport, TestRow, means_table, tests_table};
pub use season::{Exclusions, Harvest, Season};
pub use table::{Align, Column, Row, RowKind, Table};

use crate::chart::Figure;

/// How the trial was laid out and what was compared.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct Method {
    /// The method, one paragraph each: arrangement, replicates, plot size, what was harvested, how it was analysed.
    pub sentences: Vec<String>,
    /// The treatments: number, label, what was done, rate with unit.
    pub treatments: Table,
}

/// A named section of paragraphs and tables that has no struct of its own (money, next step, thanks).
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct Section {
    /// The section's heading.
    pub heading: String,
    /// Paragraphs.
    #[serde(default)]
    pub paragraphs: Vec<String>,
    /// Tables after the paragraphs.
    #[serde(default)]
    pub tables: Vec<Table>,
}

/// One line of "how these numbers were made".
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct Fact {
    /// `Layout seed`, `Program`, `Analysis`.
    pub label: String,
    /// The value.
    pub value: String,
}

/// A trial report.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct Report {
    /// Title, trial, people, stamp.
    pub heading: Heading,
    /// The question, its margin, premise and chain.
    pub question: Question,
    /// The findings, the one on the claim first.
    pub findings: Vec<Finding>,
    /// Layout and treatments.
    pub method: Method,
    /// The plot map.
    #[serde(default)]
    pub map: Option<Figure>,
    /// What happened.
    pub season: Season,
    /// Results, the primary response first.
    pub responses: Vec<ResponseReport>,
    /// Harvest figures.
    #[serde(default)]
    pub harvest: Option<Harvest>,
    /// Further sections: money, next step, acknowledgement.
    #[serde(default)]
    pub sections: Vec<Section>,
    /// What the results do not mean.
    pub not_meant: Vec<String>,
    /// Cautions: labels, local rules and licensed advice come first.
    pub cautions: Vec<String>,
    /// Plots left out.
    pub exclusions: Exclusions,
    /// How these numbers were made: program and version, method, level, layout seed, state of the data.
    pub provenance: Vec<Fact>,
}
