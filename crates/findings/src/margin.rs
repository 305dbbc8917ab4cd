//! The margin in the unit of its measure: the smallest difference worth acting on, as a size or from money.

use guardrow_agronomy::crop::Crop;
use guardrow_agronomy::unit::{Dimension, Quantity, Unit};
use serde::{Deserialize, Serialize};

use crate::figure::plain;
use crate::{FindingError, Margin};

/// A margin in the unit in which differences of its measure are told.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct MarginInUnit {
    /// The margin, above zero.
    pub value: f64,
    /// Unit of the differences.
    #[schema(value_type = String)]
    pub unit: Unit,
    /// The margin in words, with how it came about when it came from money.
    pub words: String,
}

/// What converting a margin needs to know of the trial and the station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trade<'a> {
    /// The crop, for the weight of its bushel; `None` when the trial has none.
    pub crop: Option<&'a Crop>,
    /// The station's currency, such as `EUR`.
    pub currency: &'a str,
}

impl Default for Trade<'_> {
    fn default() -> Self {
        Trade { crop: None, currency: "money" }
    }
}

/// The unit of a difference between two values in `unit`.
///
/// Two temperatures differ by a temperature difference and two dates by days; everything else keeps its unit.
pub fn difference_unit(unit: Unit) -> Unit {
    match unit {
        Unit::DegC => Unit::DegCDifference,
        Unit::DegF => Unit::DegFDifference,
        Unit::Date => Unit::Day,
        other => other,
    }
}

/// The symbol that a difference is told with: `degC`, `d`, `kg/ha`.
pub fn difference_symbol(unit: Unit) -> &'static str {
    match unit {
        Unit::DegC | Unit::DegCDifference => "degC",
        Unit::DegF | Unit::DegFDifference => "degF",
        other => difference_unit(other).symbol(),
    }
}

impl Margin {
    /// The margin in the unit in which differences of a measure are told.
    ///
    /// - `unit`: the unit of the measure; `measure`: its name; `place`: where in the question, both for messages
    ///
    /// # Errors
    /// [`FindingError::MarginOtherDimension`], [`FindingError::MarginNotFromMoney`] and
    /// [`FindingError::MarginNotPositive`].
    pub fn in_unit(
        &self,
        unit: Unit,
        measure: &str,
        place: &str,
        trade: Trade<'_>,
    ) -> Result<MarginInUnit, FindingError> {
        match self {
            Margin::Size(size) => size_in_unit(*size, unit, measure, place, trade),
            Margin::Money { added_cost, price } => {
                money_in_unit(Money { added_cost: *added_cost, price: *price }, unit, measure, place, trade)
            }
        }
    }
}

/// A size, such as a margin or the smallest step of a link, in the unit of differences of a measure.
///
/// # Errors
/// [`FindingError::MarginOtherDimension`] and [`FindingError::MarginNotPositive`].
pub fn size_in_unit(
    size: Quantity,
    unit: Unit,
    measure: &str,
    place: &str,
    trade: Trade<'_>,
) -> Result<MarginInUnit, FindingError> {
    let words = told(size, trade);
    let target = difference_unit(unit);
    // A margin of `2 degC` is a difference, although it is written like a temperature.
    let size = Quantity::new(size.value, difference_unit(size.unit));
    let value = convert(size, target, trade).ok_or_else(|| FindingError::MarginOtherDimension {
        place: place.to_owned(),
        words: words.clone(),
        unit: difference_symbol(unit).to_owned(),
        measure: measure.to_owned(),
    })?;
    let shown = format!("{} {}", plain(value), difference_symbol(unit));
    let words = if size.unit == target { shown } else { format!("{shown} ({words})") };
    positive(MarginInUnit { value, unit: target, words }, place)
}

#[derive(Clone, Copy)]
struct Money {
    added_cost: Quantity,
    price: Quantity,
}

fn money_in_unit(
    money: Money,
    unit: Unit,
    measure: &str,
    place: &str,
    trade: Trade<'_>,
) -> Result<MarginInUnit, FindingError> {
    let told = |quantity| told(quantity, trade);
    let words = format!("added cost {} over {}", told(money.added_cost), told(money.price));
    let not_money =
        |why: String| FindingError::MarginNotFromMoney { place: place.to_owned(), words: words.clone(), why };
    let cost = convert(money.added_cost, Unit::MoneyPerHa, trade)
        .ok_or_else(|| not_money(format!("{} is not money per area", told(money.added_cost))))?;
    let price = convert(money.price, Unit::MoneyPerKg, trade)
        .ok_or_else(|| not_money(format!("{} is not money per mass", told(money.price))))?;
    if price.is_nan() || price <= 0.0 {
        return Err(not_money(format!("the price {} is not above zero", told(money.price))));
    }
    if cost.is_nan() || cost <= 0.0 {
        return Err(FindingError::MarginNotPositive { place: place.to_owned(), words });
    }
    let yield_gain = Quantity::new(cost / price, Unit::KgPerHa);
    let value = convert(yield_gain, unit, trade).ok_or_else(|| FindingError::MarginOtherDimension {
        place: place.to_owned(),
        words: format!("{words}, a yield by weight,"),
        unit: difference_symbol(unit).to_owned(),
        measure: measure.to_owned(),
    })?;
    let words = format!("{} {} = {words}", plain(value), difference_symbol(unit));
    positive(MarginInUnit { value, unit, words }, place)
}

fn positive(margin: MarginInUnit, place: &str) -> Result<MarginInUnit, FindingError> {
    if margin.value.is_finite() && margin.value > 0.0 {
        return Ok(margin);
    }
    Err(FindingError::MarginNotPositive { place: place.to_owned(), words: margin.words })
}

fn convert(quantity: Quantity, unit: Unit, trade: Trade<'_>) -> Option<f64> {
    match trade.crop {
        Some(crop) => quantity.to_for_crop(unit, crop).ok(),
        None => quantity.to(unit).ok(),
    }
}

/// `45 EUR/ha`, with the station's currency.
fn told(quantity: Quantity, trade: Trade<'_>) -> String {
    match quantity.unit.dimension() {
        Dimension::Date | Dimension::TemperatureDifference => {
            format!("{} {}", plain(quantity.value), difference_symbol(quantity.unit))
        }
        _ => format!("{} {}", plain(quantity.value), quantity.unit.symbol_in(trade.currency)),
    }
}
