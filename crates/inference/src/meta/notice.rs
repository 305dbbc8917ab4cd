//! What a reader of joined trials must know.

use serde::{Deserialize, Serialize};

/// Something about the trials that changes how the joined result may be read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum JoinNotice {
    /// Too few trials for a statement about a new one.
    NoPrediction {
        /// How many there are.
        trials: usize,
    },
    /// Few trials: what they differ by is hardly known.
    FewTrials {
        /// How many there are.
        trials: usize,
    },
    /// The variance between trials is estimated at zero.
    BetweenAtZero,
    /// The likelihood of the variance between trials has more than one top; the highest was taken.
    SeveralMaxima {
        /// How many.
        maxima: usize,
    },
    /// The interval from how trials agree is narrower than the one from their own errors.
    NarrowerThanOwnErrors,
    /// The trials' estimates are the same, so their agreement says nothing of the error.
    EstimatesTheSame,
    /// The trials agree more closely than their errors allow by chance.
    TooAlike {
        /// Probability of so close an agreement, if the standard errors are right.
        p: f64,
    },
    /// Standard errors, and so weights, that are themselves poorly known.
    FewDegreesOfFreedom {
        /// The trials.
        trials: Vec<String>,
        /// The smallest degrees of freedom.
        least: f64,
    },
    /// Trials whose degrees of freedom are not told; their standard errors are taken as known.
    DegreesOfFreedomNotTold {
        /// The trials.
        trials: Vec<String>,
    },
    /// Without one trial the direction would no longer be sure.
    RestsOnOneTrial {
        /// Those trials, each of which would do it.
        trials: Vec<String>,
    },
}

impl JoinNotice {
    /// The notice as one sentence.
    pub fn sentence(&self) -> String {
        match self {
            Self::NoPrediction { trials } => {
                format!("{trials} trials are too few to say what a new trial would show: that takes three.")
            }
            Self::FewTrials { trials } => {
                format!("Only {trials} trials: by how much places and seasons differ is hardly known, and the interval is as wide as that makes it.")
            }
            Self::BetweenAtZero => {
                "The variance between trials is estimated at zero: they differ no more than their own errors make them, which does not show that they are alike.".into()
            }
            Self::SeveralMaxima { maxima } => {
                format!("The likelihood of the variance between trials has {maxima} tops; the highest was taken, but another value fits nearly as well.")
            }
            Self::NarrowerThanOwnErrors => {
                "The trials agree so well that the interval from their agreement (Hartung-Knapp) is narrower than the one from their own errors; the cautious interval beside it is not.".into()
            }
            Self::EstimatesTheSame => {
                "All trials have the same estimate, so that their agreement tells nothing of the error; the error is that of the trials themselves.".into()
            }
            Self::TooAlike { p } => {
                let p = if *p < 0.001 { "p < 0.001".to_owned() } else { format!("p = {p:.3}") };
                format!("The trials agree more closely than their standard errors allow ({p}), so no interval for the variance between them is given: check the standard errors.")
            }
            Self::FewDegreesOfFreedom { trials, least } => {
                format!("The standard errors of {} rest on few degrees of freedom ({least:.3} at the least, fewer than 12), so their weights are themselves poorly known.", names(trials))
            }
            Self::DegreesOfFreedomNotTold { trials } => {
                format!("The degrees of freedom of {} are not told, so the standard errors were taken as known.", names(trials))
            }
            Self::RestsOnOneTrial { trials } => {
                format!("The direction rests on one trial: without {} it would not be sure.", names_or(trials))
            }
        }
    }
}

fn names(trials: &[String]) -> String {
    trials.iter().map(|name| format!("'{name}'")).collect::<Vec<_>>().join(", ")
}

fn names_or(trials: &[String]) -> String {
    trials.iter().map(|name| format!("'{name}'")).collect::<Vec<_>>().join(" (or without ")
        + &")".repeat(trials.len() - 1)
}
