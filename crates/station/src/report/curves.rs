//! Responses to amounts as curves, in a sentence for each quantitative factor.

use guardrow_design::{Factor, Scale};
use guardrow_inference::{Analysis, CurveOptions};

use super::numbers::four_digits;

/// A curve asks for more amounts than a bend has parameters.
const FEWEST_AMOUNTS: usize = 4;

/// One sentence for every quantitative factor with enough levels whose average may be told.
///
/// - `withheld`: factors whose average hides a decision, so that no curve of it is told
pub(crate) fn curves(analysis: &Analysis, factors: &[Factor], withheld: &[String]) -> Vec<String> {
    let told =
        factors.iter().filter(|factor| factor.levels.len() >= FEWEST_AMOUNTS && !withheld.contains(&factor.name));
    told.filter_map(|factor| match &factor.scale {
        Scale::Quantitative { unit } => sentence(analysis, factor, unit),
        Scale::Qualitative => None,
    })
    .collect()
}

fn sentence(analysis: &Analysis, factor: &Factor, unit: &str) -> Option<String> {
    let curves = analysis.response_curves(&factor.name, None, &[], &[], &CurveOptions::default()).ok()?;
    let [group] = curves.groups.as_slice() else { return None };
    let words = group.fit_equally_words(|amount| format!("{} {unit}", four_digits(amount)));
    Some(format!(
        "Curve over {}, averaged over the other factors, for the highest response and without prices: {words}",
        factor.name
    ))
}
