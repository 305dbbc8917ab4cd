//! Whether the spread of plots treated alike grows with their mean.

use super::GroupSpread;
use crate::Estimate;
use serde::{Deserialize, Serialize};

/// Means that lie closer than this factor cannot tell how the spread depends on them.
const RANGE: f64 = 1.5;
/// Fewest groups that a line is put through.
const FEWEST: usize = 4;

/// How the standard deviation goes with the mean.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Transformation {
    /// Slope of log standard deviation on log mean, over the treatments: 0 even, 1/2 as counts, 1 in proportion.
    pub slope: Estimate,
    /// What would even the spread out, when the slope is surely above zero.
    pub suggestion: Suggestion,
    /// The finding in one sentence.
    pub sentence: String,
}

/// A transformation of the values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Suggestion {
    /// None is called for.
    None,
    /// The square root.
    SquareRoot,
    /// The logarithm.
    Logarithm,
    /// The reciprocal, where the standard deviation grows faster than the mean.
    Reciprocal,
}

/// The line of log standard deviation on log mean; none with fewer than four treatments of two plots, means that are not all above
/// zero, or means too close together.
///
/// # Source
/// Bartlett (1947), Biometrics 3:39-52: with a standard deviation in proportion to the mean to the power `b`, the power `1 - b` of
/// the values has an even one (from memory).
pub(super) fn suggested(by_treatment: &GroupSpread, level: f64) -> Option<Transformation> {
    let rows = by_treatment.rows.iter().filter_map(|row| Some((row.mean, row.sd?)));
    let usable: Vec<(f64, f64)> = rows.filter(|&(_, sd)| sd > 0.0).collect();
    let (low, high) = usable.iter().fold((f64::MAX, f64::MIN), |(low, high), it| (low.min(it.0), high.max(it.0)));
    if usable.len() < FEWEST || low <= 0.0 || high < RANGE * low {
        return None;
    }
    let logs: Vec<(f64, f64)> = usable.iter().map(|(mean, sd)| (mean.ln(), sd.ln())).collect();
    let slope = slope(&logs)?;
    let (lower, _) = slope.interval(level);
    let suggestion = match slope.estimate {
        _ if lower <= 0.0 => Suggestion::None,
        b if b < 0.75 => Suggestion::SquareRoot,
        b if b < 1.5 => Suggestion::Logarithm,
        _ => Suggestion::Reciprocal,
    };
    Some(Transformation { slope, suggestion, sentence: sentence(slope.estimate, suggestion) })
}

fn slope(points: &[(f64, f64)]) -> Option<Estimate> {
    let count = points.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / count;
    let (x, y) = (mean(|it| it.0), mean(|it| it.1));
    let sxx: f64 = points.iter().map(|it| (it.0 - x).powi(2)).sum();
    let sxy: f64 = points.iter().map(|it| (it.0 - x) * (it.1 - y)).sum();
    let estimate = sxy / sxx;
    let left: f64 = points.iter().map(|it| (it.1 - y - estimate * (it.0 - x)).powi(2)).sum();
    let df = count - 2.0;
    let se = (left / df / sxx).sqrt();
    (sxx > 0.0 && se > 0.0).then_some(Estimate { estimate, se, df })
}

fn sentence(slope: f64, suggestion: Suggestion) -> String {
    let with = match suggestion {
        Suggestion::None => return "The spread of plots treated alike does not surely grow with their mean.".into(),
        Suggestion::SquareRoot => "square roots",
        Suggestion::Logarithm => "logarithms",
        Suggestion::Reciprocal => "reciprocals",
    };
    format!(
        "The spread of plots treated alike grows with their mean (standard deviation about as the mean to the power {slope:.1}): {with} of the values would have a more even one."
    )
}
