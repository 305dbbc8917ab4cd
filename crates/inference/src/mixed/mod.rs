//! Mixed model: treatments fixed, units, interactions with places like these and samples random; variances by REML, tests by
//! Kenward and Roger.

mod cross_products;
mod kenward_roger;
mod model;
mod predictions;
mod reml;

pub use model::{Evidence, MixedFit, StopReason, VarianceComponent};
pub(crate) use model::{MixedAnalysis, direct_share, fit};
pub(crate) use predictions::predictions;
pub use predictions::{Prediction, PredictionKind, PredictionTable};
