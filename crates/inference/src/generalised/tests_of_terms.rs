//! Tests of several comparisons at once.

use super::fit::{FittedLikelihood, GeneralisedFit};
use super::model::FixedColumn;
use crate::distribution::{chi_square_upper, f_upper};
use crate::fit::{FTest, Fit};
use crate::matrix::Matrix;
use crate::{InferenceError, fit::rounded_df};
use serde::{Deserialize, Serialize};

/// A test whose statistic is spread as chi-square when nothing differs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ChiSquareTest {
    /// The statistic.
    pub chi_square: f64,
    /// Degrees of freedom.
    pub df: f64,
    /// Its upper tail.
    pub p: f64,
}

impl ChiSquareTest {
    pub(crate) fn of(chi_square: f64, df: f64) -> Self {
        Self { chi_square, df, p: if df > 0.0 { chi_square_upper(chi_square, df) } else { 1.0 } }
    }

    /// Of means whose covariance is taken as known.
    pub(crate) fn wald(means: &Fit, comparisons: &[Vec<f64>]) -> Result<Self, InferenceError> {
        let test = means.f_test(comparisons)?;
        Ok(Self::of(test.f * test.num_df, test.num_df))
    }
}

impl GeneralisedFit {
    /// Wald's test of all comparisons (rows of weights over the treatments) at once, on the link's scale.
    ///
    /// # Errors
    /// As [`Self::contrast`]; [`InferenceError::Weights`] when the rows depend on each other.
    pub fn wald(&self, comparisons: &[Vec<f64>]) -> Result<ChiSquareTest, InferenceError> {
        comparisons.iter().try_for_each(|weights| self.check_edge(weights))?;
        ChiSquareTest::wald(self.on_link()?, comparisons)
    }

    /// The same statistic over its degrees of freedom as F, with denominator degrees of freedom that the caller states, such
    /// as those of the units that the term was randomised to. With few units this is safer than chi-square; the likelihood
    /// itself gives no such number (common practice, no source).
    ///
    /// # Errors
    /// As [`Self::wald`]; [`InferenceError::Setting`] when `den_df` is not positive.
    pub fn wald_f(&self, comparisons: &[Vec<f64>], den_df: f64) -> Result<FTest, InferenceError> {
        if den_df.is_nan() || den_df <= 0.0 {
            let (what, expected) = ("the denominator degrees of freedom".to_owned(), "positive".to_owned());
            return Err(InferenceError::Setting { what, value: den_df, expected });
        }
        let ChiSquareTest { chi_square, df, .. } = self.wald(comparisons)?;
        let f = chi_square / df;
        Ok(FTest { num_df: df, den_df: rounded_df(den_df), f, p: f_upper(f, df, den_df) })
    }

    /// Means whose covariance is multiplied by Pearson's ratio, with its degrees of freedom (quasi-likelihood): a stated
    /// alternative to plot effects. Only where no grouping is in the model.
    ///
    /// # Errors
    /// [`InferenceError::NoErrorDegreesOfFreedom`] when nothing is left to estimate the ratio from, or when units are in the
    /// model.
    /// # Source
    /// Wedderburn (1974), Biometrika 61:439-447; McCullagh & Nelder (1989), section 4.5 (from memory).
    pub fn with_estimated_dispersion(&self) -> Result<Fit, InferenceError> {
        let on_link = self.on_link()?;
        let df = self.overdispersion.df;
        let Some(ratio) = self.overdispersion.ratio.filter(|_| self.components.is_empty() && df > 0.0) else {
            let (plots, parameters) = (self.observations.len(), self.parameters);
            return Err(InferenceError::NoErrorDegreesOfFreedom { plots, parameters });
        };
        let scaled = |matrix: &Matrix| matrix.clone().scaled(ratio);
        Ok(Fit {
            covariance: scaled(&on_link.covariance),
            adjusted: scaled(&on_link.adjusted),
            slopes: vec![on_link.covariance.clone()],
            parameter_covariance: Matrix::from_diagonal(&[2.0 * ratio * ratio / df]),
            ..on_link.clone()
        })
    }
}

/// What a comparison of two log-likelihoods must know of each fit.
pub(crate) struct Compared<'a> {
    pub likelihood: FittedLikelihood,
    pub log_likelihood: f64,
    pub parameters: usize,
    /// What was observed in every row, out of how many.
    pub observed: Vec<(f64, f64)>,
    /// The treatment of every row and the columns; none for a fit read back from a file.
    pub fixed_part: Option<(&'a [usize], &'a [FixedColumn])>,
}

impl Compared<'_> {
    /// The likelihood ratio, `self` being the richer model.
    pub fn likelihood_ratio(&self, reduced: &Self) -> Result<ChiSquareTest, InferenceError> {
        let refused = |reason: &str| Err(InferenceError::LikelihoodsNotComparable { reason: reason.to_owned() });
        if self.observed != reduced.observed {
            return refused("they are of different observations");
        }
        if self.likelihood != reduced.likelihood {
            return refused("one is the likelihood itself, the other the restricted one");
        }
        if self.likelihood == FittedLikelihood::Restricted {
            let (Some(own), Some(other)) = (self.fixed_part, reduced.fixed_part) else {
                return Err(InferenceError::FitNotKept);
            };
            if own != other {
                return refused("restricted likelihoods leave out what treatments and columns say, and these differ");
            }
        }
        let chi_square = (2.0 * (self.log_likelihood - reduced.log_likelihood)).max(0.0);
        Ok(ChiSquareTest::of(chi_square, self.parameters.saturating_sub(reduced.parameters) as f64))
    }
}

/// Tests whether a model fits worse than a richer one of the same observations: twice the difference of the log-likelihoods.
///
/// `reduced` must be a special case of `full` (the caller's part); a difference below zero, from rounding, counts as zero.
/// Where `reduced` lacks a variance, p is too large, since a variance cannot be negative: halve it for a single variance.
///
/// # Errors
/// [`InferenceError::LikelihoodsNotComparable`] for fits of different observations, by different likelihoods, or by restricted
/// likelihoods with different treatments or columns; [`InferenceError::FitNotKept`] for a restricted fit read back from a file.
/// # Source
/// Wilks (1938); Self & Liang (1987), JASA 82:605-610 for the edge. That restricted likelihoods compare variances only: Patterson
/// & Thompson (1971), since each is a likelihood of its own residuals.
pub fn likelihood_ratio(full: &GeneralisedFit, reduced: &GeneralisedFit) -> Result<ChiSquareTest, InferenceError> {
    full.compared().likelihood_ratio(&reduced.compared())
}

impl GeneralisedFit {
    fn compared(&self) -> Compared<'_> {
        Compared {
            likelihood: self.likelihood,
            log_likelihood: self.log_likelihood,
            parameters: self.parameters,
            observed: self.observations.iter().map(|it| (it.observed, it.trials.unwrap_or(0.0))).collect(),
            fixed_part: self.kept().ok().map(|kept| (kept.treatment.as_slice(), kept.columns.as_slice())),
        }
    }
}

/// Tests a term by the fall of the deviance from `reduced` to `full`, against Pearson's ratio of the model `error`, with its
/// degrees of freedom (the counterpart of the test by quasi-likelihood where no grouping is in the model). `error` is the
/// richest model: for a test of the last term it is `full` itself.
///
/// # Errors
/// [`InferenceError::NoErrorDegreesOfFreedom`] when nothing is left to estimate the ratio from, or when the two models have
/// equally many parameters.
/// # Source
/// McCullagh & Nelder (1989), section 4.5 (from memory); the form is that of R's `anova` with an estimated dispersion.
pub fn deviance_f(
    full: &GeneralisedFit,
    reduced: &GeneralisedFit,
    error: &GeneralisedFit,
) -> Result<FTest, InferenceError> {
    let num_df = full.parameters.saturating_sub(reduced.parameters) as f64;
    let den_df = error.overdispersion.df;
    let (plots, parameters) = (error.observations.len(), error.parameters);
    let Some(ratio) = error.overdispersion.ratio.filter(|ratio| *ratio > 0.0 && num_df > 0.0) else {
        return Err(InferenceError::NoErrorDegreesOfFreedom { plots, parameters });
    };
    let f = ((reduced.overdispersion.deviance - full.overdispersion.deviance) / num_df / ratio).max(0.0);
    Ok(FTest { num_df, den_df, f, p: f_upper(f, num_df, den_df) })
}
