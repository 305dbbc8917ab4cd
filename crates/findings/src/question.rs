//! What a trial is to answer: claims, chain, rivals, premise and margin.

use std::fmt;

use guardrow_agronomy::unit::Quantity;
use serde::de::value::MapAccessDeserializer;
use serde::de::{self, IntoDeserializer, MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};

/// What a trial is to answer, written before seeding.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default)]
pub struct Question {
    /// The decision that the answer serves.
    pub decision: String,
    /// Who will act on it.
    pub who_acts: String,
    /// What is claimed; the first is the main claim.
    pub claims: Vec<Claim>,
    /// The chain from cause to outcome, in order.
    pub links: Vec<Link>,
    /// Other explanations of the same outcome.
    pub rivals: Vec<Rival>,
    /// The condition without which the question is not tested; absent when none is needed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub premise: Option<Premise>,
}

/// One claim: a difference between two options in one measure.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default)]
pub struct Claim {
    /// The claim as a person would say it.
    pub statement: String,
    /// Key of the measure that decides it.
    pub measure: String,
    /// Which option is compared with which.
    pub comparison: Comparison,
    /// Which way the first option is expected to differ.
    pub direction: Direction,
    /// The smallest difference worth acting on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub margin: Option<Margin>,
}

/// Two options set against each other: the first minus the second.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default)]
pub struct Comparison {
    /// The option that the claim is about.
    pub first: Side,
    /// What it is compared with.
    pub second: Side,
}

/// One side of a comparison: one level of a factor (averaged over the others) or one treatment by its label.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default)]
pub struct Side {
    /// Name of the factor; absent when `level` is the label of a treatment or control.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub factor: Option<String>,
    /// Label of the level, treatment or control.
    pub level: String,
}

/// Which way a difference is expected to go.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    /// The first option is expected to be higher.
    #[default]
    Higher,
    /// The first option is expected to be lower.
    Lower,
    /// Either may be better; higher counts as better.
    Either,
}

/// The smallest difference worth acting on.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case", untagged)]
pub enum Margin {
    /// A size in the measure's dimension, such as `250 kg/ha`.
    Size(Quantity),
    /// What the first option costs more, over the price net of harvest and hauling.
    Money {
        /// Added cost per area, such as `45 EUR/ha`.
        #[schema(value_type = String)]
        added_cost: Quantity,
        /// Net price per mass, such as `0.21 EUR/kg`.
        #[schema(value_type = String)]
        price: Quantity,
    },
}

/// Read by hand, so that what is wrong with a size or a price is told in its own words: an untagged enum only says that
/// nothing fitted.
impl<'de> Deserialize<'de> for Margin {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Margin, D::Error> {
        deserializer.deserialize_any(MarginReader)
    }
}

struct MarginReader;

impl<'de> Visitor<'de> for MarginReader {
    type Value = Margin;

    fn expecting(&self, words: &mut fmt::Formatter<'_>) -> fmt::Result {
        words.write_str("a size with its unit, such as \"250 kg/ha\", or added_cost and price")
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<Margin, E> {
        Quantity::deserialize(text.into_deserializer()).map(Margin::Size)
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Margin, A::Error> {
        let money = FromMoney::deserialize(MapAccessDeserializer::new(map))?;
        Ok(Margin::Money { added_cost: money.added_cost, price: money.price })
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FromMoney {
    added_cost: Quantity,
    price: Quantity,
}

/// One measurable step of the chain.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default)]
pub struct Link {
    /// The step in words.
    pub step: String,
    /// Key of the measure that shows it; empty when none is planned.
    pub measure: String,
    /// Which way the first option of the main claim is expected to differ.
    pub direction: Direction,
    /// The smallest step that matters.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub smallest: Option<Quantity>,
    /// When it will be measured, in words.
    pub when: String,
}

/// Another explanation of the same outcome, and what would show it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default)]
pub struct Rival {
    /// The explanation in words.
    pub explanation: String,
    /// Key of the measure that would show it; empty when none is planned.
    pub measure: String,
    /// A difference smaller than this would not explain the outcome.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub smallest: Option<Quantity>,
}

/// A condition of weather or soil without which the question is not tested.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default)]
pub struct Premise {
    /// The condition in words, as it would be said when it did not occur ("the seedbed was not cold").
    pub words: String,
    /// The condition in numbers.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub condition: Option<PremiseCondition>,
}

/// A premise in numbers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PremiseCondition {
    /// What is measured ("soil temperature").
    pub measure: String,
    /// Where, with depth ("seed zone, 4 cm, early plots").
    pub place: String,
    /// Window relative to an operation or stage ("first 48 h after seeding").
    pub window: String,
    /// Which statistic of the window ("mean", "minimum", "hours below").
    pub statistic: String,
    /// True when the condition is met below the threshold.
    pub below: bool,
    /// The threshold.
    #[schema(value_type = String)]
    pub threshold: Quantity,
    /// Error of the sensor, in the threshold's dimension.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub sensor_error: Option<Quantity>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(json: &str) -> Result<Margin, String> {
        serde_json::from_str(json).map_err(|error| error.to_string())
    }

    #[test]
    fn a_margin_is_a_size_or_comes_from_money() {
        for json in [r#""250 kg/ha""#, r#"{"added_cost":"45 EUR/ha","price":"0.21 EUR/kg"}"#] {
            let margin = read(json).expect(json);
            let written = serde_json::to_string(&margin).expect("a margin is JSON");
            assert_eq!(read(&written), Ok(margin));
        }
    }

    #[test]
    fn what_is_wrong_with_a_margin_is_told_in_its_own_words() {
        for (json, word) in [
            (r#""250""#, "unit"),
            ("250", "250 kg/ha"),
            (r#"{"added_cost":"45 EUR/ha"}"#, "price"),
            (r#"{"added_cost":"45","price":"0.21 EUR/kg"}"#, "unit"),
            (r#"{"added_cost":"45 EUR/ha","prise":"0.21 EUR/kg"}"#, "prise"),
        ] {
            let error = read(json).expect_err(json);
            assert!(error.contains(word) && !error.contains("variant"), "{json}: {error}");
        }
    }
}
