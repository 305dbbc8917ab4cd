//! All differences between the means of a table.

use super::spread::{Lsd, Spread};
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
pub(super) fn pairs(errors: &MarginErrors, means: usize, quantiles: &mut Recent<f64>) -> Vec<PairDifference> {
    let range = StudentisedRange::of(means);
    let mut ranges = Recent::new(|df| range.with_df(df));
    let mut pairs = Vec::with_capacity(means * means.saturating_sub(1) / 2);
    for a in 0..means {
        for b in a + 1..means {
            let Some(it) = errors.difference(a, b) else { continue };
            let half = quantiles.of(it.df) * it.se;
            pairs.push(PairDifference {
                a,
                b,
                estimate: it.estimate,
                se: it.se,
                df: it.df,
                p: it.p(),
                p_tukey: ranges.of(it.df).upper(it.t().abs() * std::f64::consts::SQRT_2),
                p_holm: f64::NAN,
                lower: it.estimate - half,
                upper: it.estimate + half,
            });
        }
    }
    let adjusted = holm(&pairs.iter().map(|pair| pair.p).collect::<Vec<_>>());
    pairs.iter_mut().zip(adjusted).for_each(|(pair, p)| pair.p_holm = p);
    pairs
}

/// Standard errors and least significant differences alone.
pub(super) fn half_widths(
    errors: &MarginErrors,
    means: usize,
    level: f64,
    quantiles: &mut Recent<f64>,
) -> (Spread, Lsd) {
    let differences: Vec<_> =
        (0..means).flat_map(|a| (a + 1..means).filter_map(move |b| errors.difference(a, b))).collect();
    let sed = Spread::of(differences.iter().map(|it| it.se));
    (sed, Lsd::of(level, differences.iter().map(|it| quantiles.of(it.df) * it.se)))
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

/// What depends on degrees of freedom only, kept for the last few numbers of them: in a balanced table all differences share
/// one or two; where every pair has its own, older ones are of no more use.
pub(super) struct Recent<'a, T> {
    make: Box<dyn Fn(f64) -> T + 'a>,
    kept: Vec<(f64, T)>,
}

impl<'a, T> Recent<'a, T> {
    const KEPT: usize = 8;

    pub fn new(make: impl Fn(f64) -> T + 'a) -> Self {
        Self { make: Box::new(make), kept: Vec::new() }
    }

    pub fn of(&mut self, df: f64) -> &T {
        let known = self.kept.iter().position(|(known, _)| *known == df || (known - df).abs() <= 1e-12 * df);
        let position = known.unwrap_or_else(|| {
            if self.kept.len() == Self::KEPT {
                self.kept.remove(0);
            }
            self.kept.push((df, (self.make)(df)));
            self.kept.len() - 1
        });
        &self.kept[position].1
    }
}
