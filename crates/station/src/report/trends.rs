//! Trends over amounts, in a sentence for each quantitative factor.

use guardrow_design::{Factor, Scale};
use guardrow_inference::{Analysis, Trend};

use super::numbers::{df, f_ratio, p_value};

/// Straight line and bend are told; higher degrees are counted as lack of fit.
const DEGREES: usize = 2;

/// One sentence for every quantitative factor with at least three levels.
pub(crate) fn trends(analysis: &Analysis, factors: &[Factor]) -> Vec<String> {
    factors
        .iter()
        .filter(|factor| factor.levels.len() > 2)
        .filter_map(|factor| match &factor.scale {
            Scale::Quantitative { unit } => Some(sentence(&analysis.trend(&factor.name, DEGREES).ok()?, unit)),
            Scale::Qualitative => None,
        })
        .collect()
}

fn sentence(trend: &Trend, unit: &str) -> String {
    let terms: Vec<String> = trend
        .terms
        .iter()
        .map(|term| {
            format!("{} F {} on 1 and {} df, p {}", term.name, f_ratio(term.f), df(term.contrast.df), p_value(term.p))
        })
        .collect();
    let left = trend.terms.last().and_then(|term| term.lack_of_fit).map(|lack| {
        format!(
            "; lack of fit F {} on {} and {} df, p {}",
            f_ratio(lack.f),
            df(lack.num_df),
            df(lack.den_df),
            p_value(lack.p)
        )
    });
    format!(
        "Trend over {} ({unit}), averaged over the other factors: {}{}.",
        trend.factor,
        terms.join("; "),
        left.unwrap_or_default()
    )
}
