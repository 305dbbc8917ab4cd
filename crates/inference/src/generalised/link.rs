//! The scale on which treatments add: from there to proportions and counts, and back.

use crate::distribution::{normal_density, normal_lower, normal_quantile};
use serde::{Deserialize, Serialize};

/// The scale on which effects on a proportion add.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ProportionLink {
    /// Logarithm of the odds: differences are logarithms of odds ratios.
    #[default]
    Logit,
    /// Normal quantile: a threshold on a hidden normal scale.
    Probit,
    /// `log(-log(1 - p))`: at least one hit among a Poisson number.
    ComplementaryLogLog,
}

/// The scale on which effects add.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case", tag = "of", content = "link")]
pub enum Link {
    /// Of proportions.
    Proportion(ProportionLink),
    /// Of counts: the logarithm; differences are logarithms of ratios.
    Log,
}

impl Link {
    /// The proportion or count that belongs to a value on the link's scale.
    pub fn natural(self, eta: f64) -> f64 {
        match self {
            Self::Log => eta.exp(),
            Self::Proportion(ProportionLink::Logit) => 1.0 / (1.0 + (-eta).exp()),
            Self::Proportion(ProportionLink::Probit) => normal_lower(eta),
            Self::Proportion(ProportionLink::ComplementaryLogLog) => -(-eta.exp()).exp_m1(),
        }
    }

    /// How fast [`Self::natural`] rises.
    pub fn slope(self, eta: f64) -> f64 {
        match self {
            Self::Log => eta.exp(),
            Self::Proportion(ProportionLink::Logit) => {
                let small = (-eta.abs()).exp();
                small / ((1.0 + small) * (1.0 + small))
            }
            Self::Proportion(ProportionLink::Probit) => normal_density(eta),
            Self::Proportion(ProportionLink::ComplementaryLogLog) => (eta - eta.exp()).exp(),
        }
    }

    /// The value on the link's scale; infinite at the ends of what is possible.
    pub fn of(self, natural: f64) -> f64 {
        match self {
            Self::Log => natural.ln(),
            Self::Proportion(ProportionLink::Logit) => natural.ln() - (-natural).ln_1p(),
            Self::Proportion(ProportionLink::Probit) => normal_quantile(natural),
            Self::Proportion(ProportionLink::ComplementaryLogLog) => (-(-natural).ln_1p()).ln(),
        }
    }
}
