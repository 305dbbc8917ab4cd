//! What of an experiment is fixed and what is random, as divisions of the plots.
//!
//! Units of the ground and factors are labels of plots; every set of labels divides the plots. Which sets are fixed means and
//! which are random effects follows from the arrangement, the scope and the factors that are samples, by one rule for all.

mod cells;
mod division;
mod environments;
mod random_terms;
mod unit_columns;

pub(crate) use cells::{Cells, FixedTreatment, check_factors};
pub(crate) use division::Division;
pub(crate) use environments::{EnvironmentStratum, EnvironmentTerm, Environments, environment_strata, levels};
pub(crate) use random_terms::{Kind, Partition, random_terms};
pub(crate) use unit_columns::{check_units, unit_column};
