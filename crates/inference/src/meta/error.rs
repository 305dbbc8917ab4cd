//! What keeps trials from being joined.

use thiserror::Error;

/// Why there is no joined result.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum JoinError {
    /// Nothing to join.
    #[error("{trials} trial(s) with an estimate; joining takes two or more")]
    TooFewTrials {
        /// How many there are.
        trials: usize,
    },
    /// The same trial stands in the list more than once.
    #[error("trial '{trial}' is given twice")]
    TrialTwice {
        /// Its name.
        trial: String,
    },
    /// A number that is no estimate, standard error or degrees of freedom.
    #[error("trial '{trial}' has the {what} {value}; it must be {expected}")]
    NotUsable {
        /// The trial.
        trial: String,
        /// Which of its numbers.
        what: String,
        /// What it is.
        value: f64,
        /// What it may be.
        expected: String,
    },
    /// A standard error that is rounding.
    #[error("the standard error {se:e} of trial '{trial}' is nothing beside what trials differ by ({beside:e})")]
    ErrorTooSmall {
        /// The trial.
        trial: String,
        /// Its standard error.
        se: f64,
        /// The widest difference or standard error of the list.
        beside: f64,
    },
    /// The level is none.
    #[error("the level is {level}; it must be at least 1e-9 and below 0.5")]
    Level {
        /// What was given.
        level: f64,
    },
}

impl JoinError {
    /// What a person can do about it.
    pub fn help(&self) -> &'static str {
        match self {
            Self::TooFewTrials { .. } => {
                "Report the trial by itself; a second place or season gives something to join."
            }
            Self::TrialTwice { .. } => {
                "Give each trial once, with one estimate; a trial counted twice is taken for two."
            }
            Self::NotUsable { .. } => {
                "Correct the number, or leave the trial out and say so: without its standard error a trial has no weight."
            }
            Self::ErrorTooSmall { .. } => "Check the unit of this standard error against that of the others.",
            Self::Level { .. } => "Choose a level such as 0.05 for intervals of 95 %.",
        }
    }
}
