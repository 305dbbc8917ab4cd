//! Probability distributions: both tails, so that a small probability keeps its digits, and quantiles.
//!
//! Degrees of freedom may be fractions and may be infinite.

mod chi_square;
mod counts;
mod dunnett;
mod f;
mod incomplete_beta;
mod incomplete_gamma;
mod normal;
mod quadrature;
mod solve;
mod student_t;
mod studentised_range;

pub use chi_square::{chi_square_lower, chi_square_quantile, chi_square_upper};
pub use counts::{binomial_tails, negative_binomial_tails, poisson_tails};
pub use dunnett::Dunnett;
pub use f::{f_lower, f_quantile, f_upper};
pub use normal::{normal_density, normal_lower, normal_quantile, normal_upper};
pub(crate) use solve::increasing_root;
pub use student_t::{t_lower, t_quantile, t_two_sided, t_upper};
pub use studentised_range::{StudentisedRange, StudentisedRangeWithDf};
