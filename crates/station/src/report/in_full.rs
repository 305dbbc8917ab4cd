//! A report together with the analyses that it was made from, for scripts that need more digits than people do.

use guardrow_agronomy::unit::Unit;
use guardrow_inference::{Analysis, DiscreteAnalysis, TransformedAnalysis};
use guardrow_publish::report::Report;
use serde::Serialize;

use crate::analysed::Analysed;

/// A report and the numbers behind it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReportInFull {
    /// The report as people read it, every number rounded to what its error earns.
    pub report: Report,
    /// One entry per measure that has values, in the order of the report, with nothing rounded.
    pub analyses: Vec<MeasureAnalysis>,
}

/// One measure with its values and its analysis in full precision.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeasureAnalysis {
    /// Key of the measure.
    pub measure: String,
    /// Name for people.
    pub name: String,
    /// Unit of the values, and of everything in the analyses that has a unit.
    pub unit: Unit,
    /// Plot numbers; what the analysis calls plot `i` is the `i`th of these, from 0.
    pub plots: Vec<u32>,
    /// The values on these plots; none where a plot has no value.
    pub values: Vec<Option<f64>>,
    /// The analysis of these values as measurements; absent when there can be none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub analysis: Option<Analysis>,
    /// The analysis of counts, shares or scores as what they are, which then leads.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub discrete: Option<DiscreteAnalysis>,
    /// The analysis after the transformation that the plan names.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub transformed: Option<TransformedAnalysis>,
    /// Why there is no analysis of either kind.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why_not: Option<String>,
}

impl From<Analysed> for MeasureAnalysis {
    fn from(measure: Analysed) -> MeasureAnalysis {
        let why_not = match &measure.discrete {
            Some(Err(error)) => Some(measure.words(error)),
            _ => measure.why_not(),
        };
        MeasureAnalysis {
            measure: measure.key,
            name: measure.name,
            unit: measure.unit,
            plots: measure.plots,
            values: measure.response,
            analysis: measure.outcome.ok(),
            discrete: measure.discrete.and_then(Result::ok),
            transformed: measure.transformed.and_then(Result::ok),
            why_not,
        }
    }
}
