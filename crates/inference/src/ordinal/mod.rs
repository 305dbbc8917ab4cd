//! Scores on an ordered scale: proportional odds (or a hidden normal scale), treatments fixed, units random.
//!
//! [`fit`] is the way in. Behind the scores stands a hidden scale, cut by thresholds; treatments and units move a plot along it,
//! and `P(score <= k) = F(threshold_k - eta)`. Maximum likelihood by Laplace's approximation, as for counts and proportions
//! ([`crate::generalised`]); without groupings nothing is approximated.
//!
//! Source: McCullagh (1980), JRSS B 42:109-142.

mod cumulative;
mod cuts;
mod edge;
mod fit;
mod means;
mod model;

pub use cuts::{Cut, by_cuts};
pub use fit::{FittedScore, OrdinalFit, Threshold, fit, fit_restricted};
pub use means::{ScoreMean, ScoreShare, ScoreState};
pub use model::{OrdinalModel, ScoreLink};

#[cfg(test)]
pub(crate) use cumulative::Cumulative;
