//! The question a trial was to answer, as it stands in the report.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::table::{Column, Row, RowKind, Table};

/// Whether the condition that the question needs came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
#[schema(as = ReportPremiseStatus)]
pub enum PremiseStatus {
    /// The question needs no condition.
    NoneNeeded,
    /// It came.
    Occurred,
    /// It did not come: the claim was never tested.
    DidNotOccur,
    /// The evidence does not settle it.
    #[default]
    CannotTell,
}

/// The condition without which the question is not tested.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[schema(as = ReportPremise)]
pub struct Premise {
    /// The premise in words and numbers; empty when none is needed.
    pub text: String,
    /// Whether it came.
    pub status: PremiseStatus,
    /// The status in words: `did not occur`.
    pub status_text: String,
    /// What was read or seen that says so.
    #[serde(default)]
    pub evidence: String,
}

/// The question card of a report.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[schema(as = ReportQuestion)]
pub struct Question {
    /// The decision it serves.
    pub decision: String,
    /// Who will act on it.
    pub who_acts: String,
    /// The claim in one sentence.
    pub claim: String,
    /// The smallest difference worth acting on, in words: `0.15 t/ha (added cost 27 per ha at 180 per t)`.
    pub margin: String,
    /// The premise.
    pub premise: Premise,
    /// The chain from cause to yield; make it with [`chain_table`].
    pub chain: Table,
    /// The first link that broke or was not measured, in a sentence; empty when the chain held.
    #[serde(default)]
    pub chain_sentence: String,
    /// Rival explanations, each with what was seen of it.
    #[serde(default)]
    pub rivals: Vec<String>,
}

/// One link of the chain as it is printed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ChainLink {
    /// The measure.
    pub measure: String,
    /// Expected direction and smallest step that matters: `lower by at least 5 plants/m²`.
    pub expectation: String,
    /// When it was to be measured.
    pub when: String,
    /// The estimate with its interval; empty when not measured.
    pub estimate: String,
    /// `held`, `broken`, `open`, `not measured`.
    pub verdict: String,
    /// The link that the chain breaks at is marked.
    pub attention: bool,
}

/// The chain as a table, from cause to yield.
pub fn chain_table(links: &[ChainLink]) -> Table {
    let columns = vec![
        Column::left("Link"),
        Column::left("Expected"),
        Column::left("Measured"),
        Column::left("Found"),
        Column::left("Verdict"),
    ];
    let mut table = Table::new("The chain from cause to yield", columns);
    for link in links {
        let kind = if link.attention { RowKind::Attention } else { RowKind::Plain };
        let cells = [&link.measure, &link.expectation, &link.when, &link.estimate, &link.verdict];
        table.push(Row::of(kind, cells.map(String::as_str)));
    }
    table
}
