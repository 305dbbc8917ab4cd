//! Errors that are not independent with one variance: field trend, repeated measures, variances of groups.
//!
//! [`fit`] takes observations and the parts that their covariance is made of, and gives means on which every comparison works.

mod axis_table;
mod checks;
mod dense;
mod evaluation;
mod fitted;
mod information;
mod kenward_roger;
mod limits;
mod model;
mod observations;
mod part;
mod search;
mod structure;

pub use checks::MOST_JOINED;
pub use fitted::{
    CorrelatedAnalysis, CorrelatedFit, Edge, FittedAxis, FittedPart, FittedVariance, ObservationFit, PartEffects,
};
pub use model::fit;
pub(crate) use model::fit_fixed;
pub(crate) use observations::FixedPart;
pub use observations::Observations;
pub use part::{Axis, Groups, Part, RESIDUAL, Shape, Unit};
