//! Money: what a difference costs, earns, and must reach to pay.
//!
//! A station keeps one currency. Prices and costs are the user's and dated; nothing here knows a price.

use serde::Serialize;

use crate::amount::AmountError;
use crate::crop::{Bushel, Crop};
use crate::limits::{Field, Refused, accept};
use crate::unit::{Quantity, Unit, UnitError};

/// Yield that an added cost must bring to pay: `added cost / net price`, kg/ha.
///
/// - `added_cost`: per area (`money/ha`, `money/ac`)
/// - `price`: per weight of grain (`money/t`, `money/bu`)
/// - `harvest_and_hauling`: per weight of grain, taken off the price; none when the price is net already
/// - `crop`: needed when a price is per bushel
///
/// A negative cost is a saving and gives a negative margin: the yield that could be given up.
/// # Errors
/// [`AmountError`] for a unit that does not fit, or a net price that is not above zero.
/// # Source
/// Division of cost by price: University of Delaware Extension and others, see [`break_even_gain`]. Net price: CIMMYT
/// (1988), From Agronomic Data to Farmer Recommendations (from memory).
pub fn margin(
    added_cost: Quantity,
    price: Quantity,
    harvest_and_hauling: Option<Quantity>,
    crop: Option<&Crop>,
) -> Result<Quantity, AmountError> {
    let bushel = crop.and_then(Crop::bushel);
    let cost_per_ha = added_cost.to(Unit::MoneyPerHa)?;
    let hauling = harvest_and_hauling.map_or(Ok(0.0), |cost| per_kg(cost, bushel, crop))?;
    let net_price = per_kg(price, bushel, crop)? - accept(Field::Price, hauling)?;
    Ok(Quantity::new(break_even_gain(cost_per_ha, net_price)?, Unit::KgPerHa))
}

fn per_kg(price: Quantity, bushel: Option<Bushel>, crop: Option<&Crop>) -> Result<f64, UnitError> {
    match (bushel, crop) {
        (Some(bushel), _) => price.to_with_bushel(Unit::MoneyPerKg, bushel),
        (None, Some(crop)) => price.to_for_crop(Unit::MoneyPerKg, crop),
        (None, None) => price.to(Unit::MoneyPerKg),
    }
}

/// Yield gain that pays an added cost: `cost / price`, in the price's unit of weight per the cost's unit of area.
///
/// # Errors
/// [`Refused`] for a price that is not above zero or a cost that is no number.
/// # Source
/// University of Delaware Extension, citing Illinois (40 per acre at 4.25 per bushel is 9.4 bu/ac); a fungicide note in
/// a farm magazine (26 at 4.50 is 5.8).
pub fn break_even_gain(added_cost: f64, price: f64) -> Result<f64, Refused> {
    Ok(accept(Field::Cost, added_cost)? / accept(Field::BreakEvenPrice, price)?)
}

/// Yield gain that pays an added cost when the price changes as well, for example with the grade:
/// `(added cost - base yield x (new price - old price)) / new price`.
///
/// # Errors
/// [`Refused`] for prices that are not above zero, or a cost or yield that is no number.
/// # Source
/// Handbook of plot arithmetic, 9.2; it is the gain g that solves `(yield + g) x new = yield x old + cost`.
pub fn break_even_gain_with_grade(
    added_cost: f64,
    base_yield: f64,
    old_price: f64,
    new_price: f64,
) -> Result<f64, Refused> {
    if !base_yield.is_finite() || base_yield < 0.0 {
        return Err(Refused::new("base yield", base_yield, Unit::KgPerHa, "0 or more"));
    }
    let old_price = accept(Field::BreakEvenPrice, old_price)?;
    let new_price = accept(Field::BreakEvenPrice, new_price)?;
    Ok((accept(Field::Cost, added_cost)? - base_yield * (new_price - old_price)) / new_price)
}

/// Break-even gains by cost (down) and price (across).
///
/// # Errors
/// [`Refused`] for the first price or cost that cannot be used.
/// # Source
/// Handbook of plot arithmetic, 9.3. Cells are shown to 0.1.
pub fn break_even_table(costs: &[f64], prices: &[f64]) -> Result<Vec<Vec<f64>>, Refused> {
    costs.iter().map(|&cost| prices.iter().map(|&price| break_even_gain(cost, price)).collect()).collect()
}

/// Change of net return by yield gain (down) and price (across): `price x gain - cost`.
///
/// # Errors
/// [`Refused`] for a negative price or a cost that is no number.
/// # Source
/// Handbook of plot arithmetic, 9.3.
pub fn net_change_table(added_cost: f64, gains: &[f64], prices: &[f64]) -> Result<Vec<Vec<f64>>, Refused> {
    let cost = accept(Field::Cost, added_cost)?;
    let row = |gain: f64| prices.iter().map(|&price| Ok(accept(Field::Price, price)? * gain - cost)).collect();
    gains.iter().map(|&gain| row(gain)).collect()
}

/// What differs between two options, each side per the same area. A side that was left open is not zero.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PartialBudget {
    /// Returns that the change adds.
    pub added_returns: Option<f64>,
    /// Costs that the change saves.
    pub reduced_costs: Option<f64>,
    /// Costs that the change adds.
    pub added_costs: Option<f64>,
    /// Returns that the change gives up.
    pub reduced_returns: Option<f64>,
}

/// The outcome of a partial budget.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, utoipa::ToSchema)]
pub struct BudgetChange {
    /// Added returns and reduced costs.
    pub gains: f64,
    /// Added costs and reduced returns.
    pub losses: f64,
    /// Change in net return: gains less losses.
    pub change: f64,
}

/// Sides of a partial budget that were left open.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the partial budget leaves open: {}", missing.join(", "))]
pub struct OpenBudget {
    /// The sides without a number.
    pub missing: Vec<&'static str>,
}

impl OpenBudget {
    /// What to try, in one sentence.
    #[must_use]
    pub fn help(&self) -> String {
        "Enter an amount for each side, and 0 where nothing changes.".to_owned()
    }
}

impl PartialBudget {
    /// `added returns + reduced costs - added costs - reduced returns`.
    ///
    /// # Errors
    /// [`OpenBudget`] with the sides that have no finite number: a blank is zero only when the user says so.
    /// # Source
    /// New Mexico State University, Guide Z-123; the four questions in Farm Press, partial budget.
    pub fn change(&self) -> Result<BudgetChange, OpenBudget> {
        let sides = [
            ("added returns", self.added_returns),
            ("reduced costs", self.reduced_costs),
            ("added costs", self.added_costs),
            ("reduced returns", self.reduced_returns),
        ];
        let amount = |side: usize| sides[side].1.filter(|amount| amount.is_finite());
        let (Some(added), Some(saved), Some(spent), Some(lost)) = (amount(0), amount(1), amount(2), amount(3)) else {
            let open = sides.iter().filter(|(_, amount)| amount.is_none_or(|amount| !amount.is_finite()));
            return Err(OpenBudget { missing: open.map(|(side, _)| *side).collect() });
        };
        let (gains, losses) = (added + saved, spent + lost);
        Ok(BudgetChange { gains, losses, change: gains - losses })
    }
}
