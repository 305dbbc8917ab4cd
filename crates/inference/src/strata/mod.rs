//! Classical analysis by strata: each comparison is judged by the variation of the units that it was randomised to.

mod adjustment;
mod expected;
mod lattice;
mod orthogonal;
mod parts;
mod table;

pub(crate) use orthogonal::OrthogonalLayout;
pub use table::{AnovaRow, RESIDUAL, StrataTable, StratumRows, VarianceTest};
pub(crate) use table::{ClassicalTests, analysis_of_variance, tested_row};
