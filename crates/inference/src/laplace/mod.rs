//! Maximum likelihood where units have normal effects and the observations are counts, proportions or scores.
//!
//! Observation `i` has the linear predictor `eta_i = x_i' beta + offset_i + sum_k sigma_k u[k, unit of i]`, with `u` standard
//! normal, and the log-likelihood `l_i(eta_i, phi)`; `phi` are further parameters of the kind of observation (thresholds of
//! scores, the spread of a negative binomial). The likelihood of `psi = (beta, sigma, phi)` is the integral over `u`, and
//! Laplace's approximation to it
//!
//! ```text
//! L(psi) = sum_i l_i - u'u / 2 - log det(H) / 2,   H = I + sum_i w_i g_i g_i',   w_i = -d2 l_i / d eta_i2,
//! ```
//!
//! all taken at the `u` that makes `sum_i l_i - u'u / 2` largest (the mode); `g_i` holds `sigma_k` where `i` has a unit. A
//! standard deviation enters by its square only, so `L` is even in it: the edge at zero is an ordinary stationary point, where
//! the sign of the curvature tells whether the likelihood falls on leaving it.
//!
//! First and second derivatives of `L` are exact: the mode's own movement is taken into account, and the determinant's
//! curvature comes from differentiating the sparse factor of `H` in all directions at once ([`surface`]).
//!
//! Source: Breslow & Clayton (1993), JASA 88:9-25 (Laplace's approximation with random effects); Kristensen et al. (2016),
//! J. Stat. Softw. 70(5), section 2 (its gradient through the mode). The second derivatives are worked out here; tests hold
//! them against differences of the function.

mod factor;
mod likelihood;
mod mode;
mod pattern;
mod problem;
mod quadrature;
mod restricted;
mod search;
mod start;
mod surface;
mod tangent;
#[cfg(test)]
mod tests;

pub(crate) use likelihood::{ByExtra, ByTwoExtras, Derivatives, ExtraDerivatives, Likelihood, Near};
pub(crate) use pattern::Units;
pub(crate) use problem::Problem;
pub(crate) use quadrature::{Refined, refine};
pub(crate) use restricted::restrict;
pub(crate) use search::{Failure, Maximum, maximise};
