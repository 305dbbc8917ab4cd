//! Probability distributions: both tails, so that a small probability keeps its digits, and quantiles.
//!
//! Degrees of freedom may be fractions and may be infinite.

mod adaptive;
mod counts;
mod deviation;
mod dunnett;
mod factor_form;
mod gauss;
mod general_form;
mod incomplete_beta;
mod incomplete_gamma;
mod known_tail;
mod noncentral;
mod noncentral_t;
mod normal;
mod part;
mod positive;
mod quadrature;
mod quick_normal;
mod solve;
mod stirling;
mod student_t;
mod studentised_range;
mod tail_integral;

pub use counts::{binomial_tails, negative_binomial_tails, poisson_tails};
pub use dunnett::{Dunnett, Sides};
pub use noncentral::{
    noncentral_beta_log_lower, noncentral_beta_log_upper, noncentral_beta_lower, noncentral_beta_upper,
    noncentral_chi_square_log_lower, noncentral_chi_square_log_upper, noncentral_f_log_lower, noncentral_f_log_upper,
    noncentral_f_lower, noncentral_f_quantile, noncentral_f_upper,
};
pub use noncentral_t::{
    noncentral_t_log_lower, noncentral_t_log_upper, noncentral_t_lower, noncentral_t_quantile, noncentral_t_upper,
};
pub use normal::{
    normal_density, normal_log_lower, normal_log_upper, normal_lower, normal_quantile, normal_quantile_of_upper,
    normal_upper,
};
pub use positive::{
    beta_log_lower, beta_log_upper, beta_lower, beta_quantile, beta_quantile_of_upper, beta_upper,
    chi_square_log_lower, chi_square_log_upper, chi_square_lower, chi_square_quantile, chi_square_quantile_of_upper,
    chi_square_upper, f_log_lower, f_log_upper, f_lower, f_quantile, f_quantile_of_upper, f_upper, gamma_log_lower,
    gamma_log_upper, gamma_lower, gamma_quantile, gamma_quantile_of_upper, gamma_upper,
};
pub(crate) use solve::root_between;
pub use student_t::{t_log_lower, t_log_upper, t_lower, t_quantile, t_quantile_of_upper, t_two_sided, t_upper};
pub use studentised_range::{StudentisedRange, StudentisedRangeWithDf};
