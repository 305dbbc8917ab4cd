//! Counts and proportions of designed experiments: treatments fixed, units random, the error that of counting.
//!
//! [`fit`] is the way in. The model is a generalised linear mixed model by maximum likelihood (Laplace's approximation); without
//! groupings it is a generalised linear model. Scores on an ordered scale are in [`crate::ordinal`].

mod binomial;
mod check;
mod counts;
mod edge;
mod fit;
mod groupings;
mod link;
mod means;
mod model;
mod overdispersion;
mod quadrature;
mod residuals;
mod tests_of_terms;

pub(crate) use binomial::log_normal;
pub(crate) use check::{check_columns, check_count, check_groupings, check_length, check_lengths};
pub(crate) use fit::{Columns, on, unit_effects, unit_variances};
pub(crate) use groupings::separate;
pub(crate) use means::{check_level, fixed_means};
pub(crate) use quadrature::average_of_natural;
pub(crate) use tests_of_terms::Compared;

pub use fit::{
    FittedLikelihood, GeneralisedFit, NegativeBinomialSpread, UnitEffects, UnitVariance, fit, fit_restricted,
};
pub use link::{Link, ProportionLink};
pub use means::{BackTransformed, ColumnSlope, TreatmentMean, TreatmentState};
pub use model::{CountSpread, FixedColumn, GeneralisedModel, Grouping, Observed};
pub use overdispersion::{DispersionAdvice, Overdispersion};
pub use quadrature::{Quadrature, by_quadrature};
pub use residuals::FittedObservation;
pub use tests_of_terms::{ChiSquareTest, deviance_f, likelihood_ratio};

#[cfg(test)]
pub(crate) mod likelihoods {
    //! For the tests of the engine.
    pub(crate) use super::binomial::Binomial;
    pub(crate) use super::counts::{NegativeBinomial, Poisson};
}
