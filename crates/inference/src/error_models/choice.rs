//! Which of several fitted models is taken.
//!
//! Akaike's criterion on the restricted likelihood, `-2 log L + 2 k`, with `k` the covariance parameters, those at an edge counted. The
//! smallest is best. A model that was not randomised has to earn its place: it must lie more than two below the one that was.
//!
//! Source: Akaike (1974), IEEE Trans. Automat. Contr. 19:716-723; that restricted likelihoods compare models of the same fixed part only:
//! Verbeke & Molenberghs (2000), Linear Mixed Models for Longitudinal Data, section 6.4 (from memory); two as the least difference that counts:
//! Burnham & Anderson (2002), Model Selection and Multimodel Inference, section 2.6 (from memory).

use super::ErrorModel;

/// How far below that of the first model a criterion must lie.
pub(crate) const ADVANTAGE: f64 = 2.0;
/// Criteria that differ by less are the same; the model with fewer parameters is taken.
const SAME: f64 = 1e-6;

/// How to choose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Rule {
    /// The first model unless another is better by more than [`ADVANTAGE`].
    FirstUnlessBetter,
    /// The smallest criterion.
    Smallest,
}

impl Rule {
    pub fn criterion(self) -> String {
        let all = "Akaike's criterion on the restricted likelihood, -2 log L + 2 x (number of variances and correlations, those at an edge counted): smaller is better. All models have the same means, so that their criteria can be compared.";
        match self {
            Self::FirstUnlessBetter => {
                format!("{all} The first model stays unless another lies more than {ADVANTAGE} below it.")
            }
            Self::Smallest => all.to_owned(),
        }
    }
}

/// The index of the model taken, and why; none when none was fitted.
pub(super) fn choose(models: &[ErrorModel], rule: Rule) -> Option<(usize, String)> {
    let aic = |index: usize| models[index].fitted.as_ref().map(|it| (it.aic, it.covariance_parameters));
    let fitted: Vec<usize> = (0..models.len()).filter(|&it| aic(it).is_some()).collect();
    let better = |best: usize, other: usize| {
        let ((a, few), (b, many)) = (aic(best).unwrap_or_default(), aic(other).unwrap_or_default());
        if b < a - SAME || (b < a + SAME && many < few) { other } else { best }
    };
    let best = fitted.iter().copied().reduce(better)?;
    let name = |index: usize| format!("'{}'", models[index].name);
    let smallest = aic(best)?.0;
    let Some((first, _)) = aic(0).filter(|_| rule == Rule::FirstUnlessBetter) else {
        let next = fitted.iter().filter(|&&it| it != best).filter_map(|&it| aic(it)).map(|it| it.0 - smallest);
        let next = next.fold(f64::INFINITY, f64::min);
        let lead = if next.is_finite() { format!(", the next one {next:.1} above it") } else { String::new() };
        return Some((best, format!("{} has the smallest criterion ({smallest:.1}){lead}.", name(best))));
    };
    let reason = match first - smallest {
        _ if best == 0 => format!("No other model has a smaller criterion than {} ({first:.1}).", name(0)),
        gain if gain > ADVANTAGE => {
            let reason = format!("{} has the smallest criterion, {gain:.1} below {}.", name(best), name(0));
            return Some((best, reason));
        }
        gain => format!(
            "{} has the smallest criterion, but only {gain:.1} below {}: too little to leave what was randomised.",
            name(best),
            name(0)
        ),
    };
    Some((0, reason))
}
