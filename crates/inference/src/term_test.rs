//! The test of one treatment term.

use serde::{Deserialize, Serialize};

/// How a term was tested.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TestMethod {
    /// Against the mean square of the stratum that the term was randomised to (ordinary least squares, with one stratum).
    Strata,
    /// REML with Kenward and Roger's covariance and degrees of freedom.
    KenwardRoger,
    /// REML with the covariance as fitted and Satterthwaite's degrees of freedom.
    Satterthwaite,
    /// Maximum likelihood: Wald's statistic over its degrees of freedom, against the error degrees of freedom that the same
    /// comparisons have among the plain values of the plots.
    Wald,
}

/// The F test of one term, each mean of the term weighted equally over the other factors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct TermTest {
    /// Names of the units (sites, years) and factors; empty for the comparisons among controls and factorial.
    pub term: Vec<String>,
    /// Name for people.
    pub label: String,
    /// The stratum whose error was used, or the sum of mean squares that stands for it; none for the mixed model, which weighs them.
    pub stratum: Option<String>,
    /// Degrees of freedom of the term.
    pub num_df: f64,
    /// Degrees of freedom of the error.
    pub den_df: f64,
    /// The variance ratio.
    pub f: f64,
    /// Its upper tail.
    pub p: f64,
    /// How it was tested.
    pub method: TestMethod,
}
