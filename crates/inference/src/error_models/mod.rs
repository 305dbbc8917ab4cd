//! Several models of the errors of one response, fitted side by side and chosen among by a stated criterion.
//!
//! All models of one set have the same fixed part, so that their restricted likelihoods speak of the same thing.

mod choice;
mod compared;
mod edge_words;
mod fixed_part;

pub(crate) use choice::Rule;
pub(crate) use compared::{Candidate, Compared, compare};
pub use compared::{ErrorModel, ErrorModels};
pub(crate) use fixed_part::{Fixed, strata_parts};
