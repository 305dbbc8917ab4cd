//! Trend over the field: a short list of models of the ground beside the analysis as it was randomised.
//!
//! Every model keeps the blocks, rows and columns of the arrangement and adds to them, so that what was randomised stays in, and so that
//! all have the same fixed part (Piepho, Richter & Williams 2008, Biom. J. 50:164-189, for the idea; from memory).

mod candidates;
mod lead;
mod positions;
mod result;

pub use lead::FieldLead;
pub use positions::FieldPositions;
pub use result::{FieldTrend, PlotOnField, field_trend};
