//! A report together with the analyses that it was made from, for scripts that need more digits than people do.

use guardrow_agronomy::unit::Unit;
use guardrow_findings::Findings;
use guardrow_inference::{Analysis, DiscreteAnalysis, ErrorsByEnvironment, FieldTrend, TransformedAnalysis};
use guardrow_publish::report::Report;
use serde::Serialize;

use super::further::{Further, further};
use crate::Plan;
use crate::analysed::Analysed;
use crate::beside::Beside;
use crate::dossier::Laid;

/// A report and the numbers behind it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReportInFull {
    /// The report as people read it, every number rounded to what its error earns.
    pub report: Report,
    /// The claims of the question as they were judged, with nothing rounded.
    pub findings: Findings,
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
    /// What was asked of that analysis: trends, curves, effects within levels, the residuals.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub further: Option<Further>,
    /// The analysis of counts, shares or scores as what they are, which then leads.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub discrete: Option<DiscreteAnalysis>,
    /// The analysis after the transformation that the plan names.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub transformed: Option<TransformedAnalysis>,
    /// Models of the ground beside the analysis, for a deciding measure on one field.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ground: Option<FieldTrend>,
    /// The analysis with an error of each place or season, for a deciding measure at several.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub errors_by_place: Option<ErrorsByEnvironment>,
    /// Why there is no analysis of either kind.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why_not: Option<String>,
}

impl MeasureAnalysis {
    /// One analysed measure, with everything asked of its analysis and the models of its errors.
    pub(super) fn of(measure: Analysed, beside: Option<&Beside>, laid: &Laid, plan: &Plan) -> MeasureAnalysis {
        let further = measure.outcome.as_ref().ok().map(|analysis| further(&measure, analysis, laid, plan));
        let why_not = match &measure.discrete {
            Some(Err(error)) => Some(measure.words(error)),
            _ => measure.why_not(),
        };
        let Beside { ground, places } = beside.cloned().unwrap_or_default();
        MeasureAnalysis {
            measure: measure.key,
            name: measure.name,
            unit: measure.unit,
            plots: measure.plots,
            values: measure.response,
            analysis: measure.outcome.ok(),
            further,
            discrete: measure.discrete.and_then(Result::ok),
            transformed: measure.transformed.and_then(Result::ok),
            ground: ground.and_then(Result::ok),
            errors_by_place: places.and_then(Result::ok),
            why_not,
        }
    }
}
