//! Least squares with blocks (rows, columns) as fixed effects, beside the analysis that leads.
//!
//! With plots missing, texts give this analysis; it uses comparisons within units only. The analysis that takes units as
//! random also uses what differences between units tell.

mod model;
mod sequence;

pub(crate) use model::fixed_units;
pub use model::{FixedUnits, MissingPlotEstimate};
pub(crate) use sequence::{Directions, indicators};
