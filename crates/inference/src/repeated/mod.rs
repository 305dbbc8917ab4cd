//! Repeated measures: the same measure on the same plots at several occasions of a season.
//!
//! Occasions are crossed with the treatments as places are, and with the units of the arrangement: the error of a plot on one day may resemble its error on
//! the next (Piepho, Büchse & Richter 2004, J. Agron. Crop Sci. 190:230-247, for the way from the randomisation to the model; from memory).

mod alone;
mod candidates;
mod occasions;
mod over_time;
mod result;

pub use alone::{OccasionAlone, SeasonMean};
pub use occasions::{Occasions, Visit};
pub use over_time::{OverTime, TimeTrend};
pub use result::{PlotOnOccasion, Repeated, repeated};
