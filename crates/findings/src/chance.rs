//! The chance that a trial gives a decisive verdict, and how many replicates would make it good.

use guardrow_inference::distribution::{normal_lower, t_quantile};
use serde::{Deserialize, Serialize};

use crate::{Estimate, Sidedness};

/// The chance that is aimed at.
pub const TARGET_CHANCE: f64 = 0.8;

/// Replicates beyond this are not tried: no station lays out such a trial, and other years would serve better.
pub const MOST_REPLICATES: usize = 60;

/// What a trial looks like before its data: its precision, and the rule it will be judged by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prospect {
    /// True standard error of the difference.
    pub se: f64,
    /// Error degrees of freedom of the difference.
    pub df: f64,
    /// The smallest difference worth acting on, above zero, in the unit of `se`.
    pub margin: f64,
    /// Whether the claim says which option is better.
    pub sidedness: Sidedness,
    /// Risk of the tests, a share such as 0.05.
    pub alpha: f64,
}

impl Prospect {
    /// The chance of a verdict other than undecided when the true difference, oriented as claimed, is `truth`.
    ///
    /// The estimate is normal around `truth`; the standard error that the trial will compute is the true one times the
    /// root of a chi-square over its degrees of freedom, independent of the estimate. For a given computed standard
    /// error the undecided estimates are an interval, so that one integral over the computed standard error is left.
    /// # Source
    /// Own derivation from the table of verdicts; checked against simulation, against exact values at the margin, and
    /// against the noncentral t where the margin is small. See `docs/numbers/verdicts.md`.
    pub fn chance_of_decision(&self, truth: f64) -> f64 {
        let t_direction = t_quantile(1.0 - self.alpha / 2.0, self.df);
        let t_equivalence = t_quantile(1.0 - self.alpha, self.df);
        let decided = |factor: f64| self.chance_given(factor * self.se, truth, t_direction, t_equivalence);
        // The integrand has a kink where an edge of the undecided interval changes its formula.
        let kinks = [self.margin / (t_direction * self.se), self.margin / (t_equivalence * self.se)];
        over_computed_se(self.df, kinks, decided)
    }

    /// The chance of a decision when the trial computes the standard error `computed`.
    fn chance_given(&self, computed: f64, truth: f64, t_direction: f64, t_equivalence: f64) -> f64 {
        let below = |edge: f64| normal_lower((edge - truth) / self.se);
        // Undecided estimates lie between these two (lines 3 and 5 of the table; line 4 lies below line 5's edge).
        let upper = self.margin.max(t_direction * computed);
        let lower = self.margin - t_equivalence * computed;
        match self.sidedness {
            Sidedness::Directed => 1.0 - (below(upper) - below(lower)),
            Sidedness::Either => {
                let equivalent = if lower > 0.0 { below(lower) - below(-lower) } else { 0.0 };
                1.0 - (below(upper) - below(-upper)) + equivalent
            }
        }
    }
}

/// How many replicates a decisive verdict would take.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct WhatItTakes {
    /// Replicates of this trial.
    pub replicates_now: usize,
    /// Replicates for an 80 % chance when the true difference is as estimated; absent when 60 are not enough.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub when_as_estimated: Option<usize>,
    /// Whether the interval for direction leaves out zero, so that nothing is said for a true difference of zero.
    pub zero_is_excluded: bool,
    /// Replicates for an 80 % chance when there is no true difference; absent when 60 are not enough or zero is excluded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub when_zero: Option<usize>,
}

/// Replicates for an 80 % chance of a decisive verdict, from an undecided estimate that is oriented as claimed.
///
/// Assumes that replicates like these have the standard error's plot-to-plot variation and the same arrangement: the
/// standard error falls with the root of the replicates, and the degrees of freedom grow with the replicates less one
/// (exact for balanced blocks and split-plots; for completely random plots a little cautious).
///
/// `None` with fewer than two replicates or a standard error of zero: there is nothing to go by.
pub fn what_it_takes(
    estimate: &Estimate,
    replicates: usize,
    margin: f64,
    sidedness: Sidedness,
    alpha: f64,
) -> Option<WhatItTakes> {
    if replicates < 2 || estimate.se.is_nan() || estimate.se <= 0.0 {
        return None;
    }
    let prospect = |count: usize| Prospect {
        se: estimate.se * (replicates as f64 / count as f64).sqrt(),
        df: (estimate.df * (count as f64 - 1.0) / (replicates as f64 - 1.0)).max(1.0),
        margin,
        sidedness,
        alpha,
    };
    let needed =
        |truth: f64| (2..=MOST_REPLICATES).find(|&count| prospect(count).chance_of_decision(truth) >= TARGET_CHANCE);
    let zero_is_excluded = estimate.estimate.abs() > t_quantile(1.0 - alpha / 2.0, estimate.df) * estimate.se;
    Some(WhatItTakes {
        replicates_now: replicates,
        when_as_estimated: needed(estimate.estimate),
        zero_is_excluded,
        when_zero: if zero_is_excluded { None } else { needed(0.0) },
    })
}

/// The mean of `value` over the ratio of the computed to the true standard error, on `df` degrees of freedom.
fn over_computed_se(df: f64, kinks: [f64; 2], value: impl Fn(f64) -> f64) -> f64 {
    // Beyond nine standard deviations of the ratio less than 1e-13 of the trials are left.
    let reach = 9.0 / (2.0 * df).sqrt();
    let (from, to) = ((1.0 - reach).max(0.0), 1.0 + reach);
    let mut edges = vec![from, to];
    edges.extend(kinks.into_iter().filter(|kink| *kink > from && *kink < to));
    edges.sort_by(f64::total_cmp);
    let log_density = ratio_log_density(df);
    let integrand = |ratio: f64| if ratio > 0.0 { log_density(ratio).exp() * value(ratio) } else { 0.0 };
    edges.windows(2).map(|piece| simpson(piece[0], piece[1], integrand)).sum::<f64>().clamp(0.0, 1.0)
}

/// Log density of the root of a chi-square over its degrees of freedom.
fn ratio_log_density(df: f64) -> impl Fn(f64) -> f64 {
    let half = df / 2.0;
    let constant = std::f64::consts::LN_2 + half * half.ln() - libm::lgamma(half);
    move |ratio: f64| constant + (df - 1.0) * ratio.ln() - half * ratio * ratio
}

fn simpson(from: f64, to: f64, integrand: impl Fn(f64) -> f64) -> f64 {
    const PANELS: usize = 200;
    let step = (to - from) / PANELS as f64;
    let inner: f64 =
        (1..PANELS).map(|index| if index % 2 == 1 { 4.0 } else { 2.0 } * integrand(from + index as f64 * step)).sum();
    (integrand(from) + inner + integrand(to)) * step / 3.0
}
