//! Joining trials by their summaries: random effects, variance between trials by REML, error by Hartung and Knapp.
//!
//! [`join_trials`] is the way in. A trial enters with the estimate of one comparison, its standard error and degrees of freedom.
//! Trials that do not answer the same question (the premise occurred, or did not) are joined apart, each group by a call of its
//! own: nothing here averages over groups.
//!
//! Sources: DerSimonian & Laird (1986), Control. Clin. Trials 7:177-188, for the model; Viechtbauer (2005), J. Educ. Behav. Stat.
//! 30:261-293, for REML; Hartung & Knapp (2001), Stat. Med. 20:1771-1782.

mod between;
mod error;
mod join;
mod joined;
mod notice;
mod scaled;
mod surface;
mod trial;

pub use error::JoinError;
pub use join::join_trials;
pub use joined::{BetweenTrials, JoinedTrial, JoinedTrials, KnownErrors, NewTrial, WithoutTrial};
pub use notice::JoinNotice;
pub use trial::TrialSummary;
