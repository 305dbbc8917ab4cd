//! What the values of a measure are.

use crate::generalised::{CountSpread, Link, ProportionLink};
use crate::ordinal::ScoreLink;
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
    /// Scores on an ordered scale. Means are mean scores.
    Scores {
        /// The hidden scale on which treatments add.
        link: ScoreLink,
    },
}

/// How a mean on the model's scale is told: `low + width x natural(link)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ToldAs {
    pub low: f64,
    pub width: f64,
    /// The scale on which intervals are worked out, so that they stay within what is possible.
    pub link: Link,
}

impl DiscreteKind {
    /// For each plot whether everything is there to use its value.
    pub(super) fn has_all(&self, plot: usize) -> bool {
        match self {
            Self::Counts { searched: None, .. } | Self::Scores { .. } => true,
            Self::Counts { searched: Some(beside), .. } | Self::Shares { of: beside, .. } => {
                beside.get(plot).copied().flatten().is_some()
            }
        }
    }

    /// How means are told; `scores` are the values of the lowest and the highest score.
    pub(super) fn told_as(&self, scores: (f64, f64)) -> ToldAs {
        match self {
            Self::Counts { .. } => ToldAs { low: 0.0, width: 1.0, link: Link::Log },
            Self::Shares { link, .. } => ToldAs { low: 0.0, width: 100.0, link: Link::Proportion(*link) },
            Self::Scores { .. } => {
                ToldAs { low: scores.0, width: scores.1 - scores.0, link: Link::Proportion(ProportionLink::Logit) }
            }
        }
    }
}

/// The values as plain numbers in the unit in which means are told: counts per unit searched, shares in percent. A plot on which
/// something is missing has none.
pub fn plain_values(kind: &DiscreteKind, values: &[Option<f64>]) -> Vec<Option<f64>> {
    let (beside, factor) = match kind {
        DiscreteKind::Counts { searched: None, .. } | DiscreteKind::Scores { .. } => return values.to_vec(),
        DiscreteKind::Counts { searched: Some(beside), .. } => (beside, 1.0),
        DiscreteKind::Shares { of, .. } => (of, 100.0),
    };
    let plain = |(value, beside): (&Option<f64>, &Option<f64>)| Some(factor * (*value)? / (*beside)?);
    values.iter().zip(beside).map(plain).collect()
}
