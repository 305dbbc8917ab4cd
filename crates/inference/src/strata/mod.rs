//! Classical analysis by strata: each comparison is judged by the variation of the units that it was randomised to.

mod orthogonal;
mod partition;
mod table;

pub(crate) use orthogonal::OrthogonalLayout;
pub(crate) use partition::{Partition, partitions};
pub use table::{AnovaRow, RESIDUAL, StrataTable, StratumRows};
pub(crate) use table::{analysis_of_variance, tested_row};
