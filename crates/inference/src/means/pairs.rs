//! All differences between the means of a table.

use super::by_df::{Quantiles, RangeTails};
use super::spread::{Lsd, Spread};
use crate::Estimate;
use crate::distribution::StudentisedRange;
use crate::fit::MarginErrors;
use serde::{Deserialize, Serialize};

/// One difference between two means of a table.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PairDifference {
    /// Index of the first cell.
    pub a: usize,
    /// Index of the second cell.
    pub b: usize,
    /// First minus second.
    pub estimate: f64,
    /// Its standard error.
    pub se: f64,
    /// Degrees of freedom of the standard error.
    pub df: f64,
    /// Two-sided p of its own t, unadjusted.
    pub p: f64,
    /// p adjusted for all pairs of the table (Tukey-Kramer).
    pub p_tukey: f64,
    /// p adjusted for all pairs of the table in steps (Holm).
    pub p_holm: f64,
    /// Lower end of its own interval at the analysis' level, unadjusted.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// All differences whose error is known.
pub(super) fn pairs(errors: &MarginErrors, means: usize, quantiles: &mut Quantiles) -> Vec<PairDifference> {
    let range = StudentisedRange::of(means);
    let mut tails = RangeTails::of(&range);
    let known = differences(errors, means);
    let in_ranges = |it: &Estimate| it.t().abs() * std::f64::consts::SQRT_2;
    quantiles.prepare(&known.iter().map(|it| it.2.df).collect::<Vec<_>>());
    tails.prepare(&known.iter().map(|it| (in_ranges(&it.2), it.2.df)).collect::<Vec<_>>());
    let p: Vec<f64> = known.iter().map(|it| it.2.p()).collect();
    let adjusted = holm(&p);
    let pair = |((&(a, b, it), p), p_holm): ((&(usize, usize, Estimate), f64), f64)| {
        let half = quantiles.of(it.df) * it.se;
        let Estimate { estimate, se, df } = it;
        let p_tukey = tails.upper(in_ranges(&it), df);
        PairDifference { a, b, estimate, se, df, p, p_tukey, p_holm, lower: estimate - half, upper: estimate + half }
    };
    known.iter().zip(p).zip(adjusted).map(pair).collect()
}

fn differences(errors: &MarginErrors, means: usize) -> Vec<(usize, usize, Estimate)> {
    let pairs = (0..means).flat_map(|a| (a + 1..means).map(move |b| (a, b)));
    let mut known = Vec::with_capacity(means * means.saturating_sub(1) / 2);
    known.extend(pairs.filter_map(|(a, b)| Some((a, b, errors.difference(a, b)?))));
    known
}

/// Standard errors and least significant differences alone.
pub(super) fn half_widths(errors: &MarginErrors, means: usize, level: f64, quantiles: &mut Quantiles) -> (Spread, Lsd) {
    let known = differences(errors, means);
    quantiles.prepare(&known.iter().map(|it| it.2.df).collect::<Vec<_>>());
    let sed = Spread::of(known.iter().map(|it| it.2.se));
    (sed, Lsd::of(level, known.iter().map(|it| quantiles.of(it.2.df) * it.2.se)))
}

/// p adjusted in steps: the smallest times the number of tests, the next times one fewer, none below one before it.
///
/// # Source
/// Holm (1979), Scand. J. Statist. 6:65-70 (from memory); checked against R.
pub fn holm(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&a, &b| p[a].total_cmp(&p[b]));
    let mut adjusted = vec![0.0; p.len()];
    let mut largest: f64 = 0.0;
    for (rank, &index) in order.iter().enumerate() {
        largest = largest.max((p[index] * (p.len() - rank) as f64).min(1.0));
        adjusted[index] = largest;
    }
    adjusted
}
