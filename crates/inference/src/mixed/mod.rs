//! Mixed model: treatments fixed, units random, variances by REML, tests by Kenward and Roger.

mod cross_products;
mod kenward_roger;
mod model;
mod reml;

pub use model::{Evidence, MixedFit, StopReason, VarianceComponent};
pub(crate) use model::{MixedAnalysis, fit};
