//! Why the classical and the mixed analysis of one response differ, in one sentence.

use crate::{MixedFit, TermTest};

/// Relative difference of F or degrees of freedom below which two tests are the same.
const SAME: f64 = 1e-4;

/// The sentence, when both methods were used and some test differs.
pub(crate) fn difference(
    strata: Option<&[TermTest]>,
    mixed_tests: &[TermTest],
    mixed: Option<&MixedFit>,
) -> Option<String> {
    let (strata, mixed) = (strata?, mixed?);
    let differs = |a: f64, b: f64| (a - b).abs() > SAME * a.abs().max(b.abs());
    let pair = mixed_tests
        .iter()
        .filter_map(|mixed| strata.iter().find(|it| it.term == mixed.term).map(|it| (it, mixed)))
        .filter(|(a, b)| differs(a.f, b.f) || differs(a.den_df, b.den_df))
        .max_by(|a, b| (a.0.f / a.1.f).ln().abs().total_cmp(&(b.0.f / b.1.f).ln().abs()))?;
    let at_zero: Vec<&str> = mixed.components.iter().filter(|it| it.at_zero).map(|it| it.name.as_str()).collect();
    let (classical, pooled) = pair;
    let figures = format!(
        "for {}, F = {:.2} on {} and {:.1} df by strata, F = {:.2} on {} and {:.1} df by the mixed model",
        classical.label, classical.f, classical.num_df, classical.den_df, pooled.f, pooled.num_df, pooled.den_df
    );
    Some(match at_zero.as_slice() {
        [] => format!("The two methods weigh the strata differently: {figures}."),
        names => format!(
            "The mixed model holds the variance of {} at zero and so pools strata that the classical analysis keeps apart, as they were randomised: {figures}.",
            names.join(" and ")
        ),
    })
}
