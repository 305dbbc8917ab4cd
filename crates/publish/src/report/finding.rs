//! Findings: one statement about one effect, with its verdict.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The verdict, as far as a page or print must know it to mark it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum VerdictKind {
    /// The claim, or the first of two options, is borne out.
    Supported,
    /// The opposite, or no gain that matters.
    Contradicted,
    /// Smaller than matters.
    NoDifferenceThatMatters,
    /// The trial cannot tell.
    Undecided,
    /// The premise did not occur.
    NeverTested,
    /// No margin was set: estimate and interval only.
    #[default]
    NoVerdict,
}

/// A verdict with the word that is printed: `supported`, or `May seeding better` for a question without direction.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[schema(as = ReportVerdict)]
pub struct Verdict {
    /// For colour and order.
    pub kind: VerdictKind,
    /// The word or words printed.
    pub word: String,
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[schema(as = ReportFinding)]
pub struct Finding {
    /// What was compared, short: `Grain yield, early against late`.
    pub claim: String,
    /// The verdict.
    pub verdict: Verdict,
    /// The sentence, made from the same numbers as the tables.
    pub sentence: String,
    /// Estimate, interval and margin in one line: `+0.21 t/ha (95 % interval 0.05 to 0.37); margin 0.15`.
    #[serde(default)]
    pub numbers: String,
    /// What it would take to decide; empty when decided.
    #[serde(default)]
    pub would_take: String,
    /// What a reader must know beside the sentence: margin, degrees of freedom, what the gate says.
    #[serde(default)]
    pub notes: Vec<String>,
    /// What may not be said on this evidence.
    #[serde(default)]
    pub not_to_say: Vec<String>,
}
