//! What the values of a measure are.

use crate::generalised::{CountSpread, ProportionLink};
use serde::{Deserialize, Serialize};

/// What the values are, when they are no measurements.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum DiscreteKind {
    /// Numbers without an upper limit, such as plants or insects. Means are numbers per plot, or per unit of what was searched.
    Counts {
        /// For each plot the area or length that was searched, where plots differ in it.
        searched: Option<Vec<Option<f64>>>,
        /// How counts of equal mean vary, apart from the units.
        spread: CountSpread,
    },
    /// So many out of so many, such as emerged out of sown. Means are given in percent.
    Shares {
        /// For each plot out of how many.
        of: Vec<Option<f64>>,
        /// The scale on which treatments add.
        link: ProportionLink,
    },
}

impl DiscreteKind {
    /// For each plot whether everything is there to use its value.
    pub(super) fn has_all(&self, plot: usize) -> bool {
        match self {
            Self::Counts { searched: None, .. } => true,
            Self::Counts { searched: Some(beside), .. } | Self::Shares { of: beside, .. } => {
                beside.get(plot).copied().flatten().is_some()
            }
        }
    }

    /// What a mean on the natural scale of the model is multiplied with to be in the unit in which it is told.
    pub(super) fn told_as(&self) -> f64 {
        match self {
            Self::Counts { .. } => 1.0,
            Self::Shares { .. } => 100.0,
        }
    }
}

/// The values as plain numbers in the unit in which means are told: counts per unit searched, shares in percent. A plot on which
/// something is missing has none.
pub fn plain_values(kind: &DiscreteKind, values: &[Option<f64>]) -> Vec<Option<f64>> {
    let beside = match kind {
        DiscreteKind::Counts { searched: None, .. } => return values.to_vec(),
        DiscreteKind::Counts { searched: Some(beside), .. } | DiscreteKind::Shares { of: beside, .. } => beside,
    };
    let plain = |(value, beside): (&Option<f64>, &Option<f64>)| Some(kind.told_as() * (*value)? / (*beside)?);
    values.iter().zip(beside).map(plain).collect()
}
