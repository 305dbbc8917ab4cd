//! What the values of a measure are, which decides how they are analysed.

use guardrow_inference::generalised::{CountSpread, ProportionLink};
use guardrow_inference::ordinal::ScoreLink;
use serde::{Deserialize, Serialize};

/// What the values of a measure are.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum ValueKind {
    /// Measurements, or counts so large and even that they may pass for such.
    #[default]
    Measured,
    /// Numbers of things without an upper limit, such as weeds or insects.
    Counted {
        /// Key of the measure that says what area or length of each plot was searched, when that differs between plots.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        searched: Option<String>,
        /// How counts of equal mean vary, apart from plots and larger units.
        #[serde(default)]
        spread: CountSpread,
    },
    /// So many out of so many, such as emerged out of sown; told in percent.
    Share {
        /// Out of how many.
        of: Whole,
        /// The scale on which treatments add.
        #[serde(default)]
        link: ProportionLink,
    },
    /// Scores on an ordered scale, of which no one knows how far apart they are; told as mean scores.
    Scored {
        /// The hidden scale on which treatments add.
        #[serde(default)]
        link: ScoreLink,
    },
}

/// Out of how many things was counted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(untagged)]
pub enum Whole {
    /// The same number on every plot.
    Number(u32),
    /// Key of the measure that says it for each plot.
    Measure(String),
}

impl ValueKind {
    /// Whether the values are plain measurements.
    pub fn is_measured(&self) -> bool {
        *self == ValueKind::Measured
    }

    /// Key of the measure that this one cannot be analysed without.
    pub fn beside(&self) -> Option<&str> {
        match self {
            ValueKind::Counted { searched: Some(key), .. } | ValueKind::Share { of: Whole::Measure(key), .. } => {
                Some(key)
            }
            _ => None,
        }
    }
}
