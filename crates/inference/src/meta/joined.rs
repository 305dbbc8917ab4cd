//! What trials say together.

use super::JoinNotice;
use crate::{Estimate, Evidence};
use serde::{Deserialize, Serialize};

/// Trials joined by random effects.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct JoinedTrials {
    /// What intervals leave out on both sides together.
    pub level: f64,
    /// The mean of the effects that trials like these have, with the error of Hartung and Knapp: from how the trials agree, on
    /// one degree of freedom less than there are trials.
    pub joined: Estimate,
    /// Lower end of its interval.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Probability of a mean this far from zero if the mean effect is zero.
    pub p: f64,
    /// The same mean with an error from the trials' own errors and the variance between them, taken as known.
    pub by_own_errors: KnownErrors,
    /// Where the interval of `joined` is narrower than that of `by_own_errors`: the latter error with the degrees of freedom of
    /// the former, which is wider than both.
    pub cautious: Option<Estimate>,
    /// The mean if all trials had the same effect.
    pub common: KnownErrors,
    /// How trials differ beyond their errors.
    pub between: BetweenTrials,
    /// Where the effect in one more trial like these lies; none with fewer than three trials.
    pub new_trial: Option<NewTrial>,
    /// The trials, in the order given.
    pub trials: Vec<JoinedTrial>,
    /// Restricted log-likelihood, constants included.
    pub log_likelihood: f64,
    /// How the search for the variance went.
    pub evidence: Evidence,
    /// What a reader must know.
    pub notices: Vec<JoinNotice>,
}

/// A mean whose error is taken as known.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct KnownErrors {
    /// The mean.
    pub estimate: f64,
    /// Its standard error.
    pub se: f64,
    /// Lower end of its interval, by the normal distribution.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// How the effects of trials differ.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct BetweenTrials {
    /// Variance of the effects (tau squared), in the squared unit; exactly zero when the likelihood falls from there.
    pub variance: f64,
    /// Its square root, in the unit of the estimates.
    pub sd: f64,
    /// Standard error of the variance from the expected information; none at zero.
    pub variance_se: Option<f64>,
    /// Lower end of the interval of the variance, by the profile of Q; none when the trials are too much alike for any.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Squares of the estimates about `common`, weighted by their own errors (Cochran's Q).
    pub q: f64,
    /// One less than there are trials.
    pub q_df: f64,
    /// Probability of a Q at least this large if all trials have the same effect.
    pub q_p: f64,
    /// Percent of what estimates vary that is variance between trials (I squared).
    pub percent: f64,
    /// What estimates vary over what their own errors make them vary (H squared).
    pub ratio: f64,
}

/// The effect in a new trial.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct NewTrial {
    /// Lower end of where its true effect lies.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// One trial among the others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct JoinedTrial {
    /// Its name.
    pub name: String,
    /// Its estimate.
    pub estimate: f64,
    /// Its standard error.
    pub se: f64,
    /// Degrees of freedom of that, where they are told.
    pub df: Option<f64>,
    /// Lower end of its own interval, by Student's t; by the normal distribution where degrees of freedom are not told.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Its share of the weight, between 0 and 1.
    pub weight: f64,
    /// What the others say without it; none with two trials.
    pub without: Option<WithoutTrial>,
}

/// The joined result with one trial left out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct WithoutTrial {
    /// The mean of the others, by Hartung and Knapp.
    pub joined: Estimate,
    /// Lower end of its interval.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Variance between the others.
    pub variance: f64,
    /// The trial's estimate less that mean, over the error that such a difference should have (from own errors and variance
    /// between): beyond 2 or so it stands out.
    pub distance: f64,
}
