//! What amounts of a factor cost against what the product brings: how much response a unit of the amount must bring to pay.

use guardrow_agronomy::unit::Quantity;
use guardrow_design::{Factor, Scale};
use guardrow_findings::{FindingError, Margin, Trade};

use crate::{AmountCost, Plan};

/// Cost of an amount against the price of the product.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Paying {
    /// Response, in the measure's unit, that one unit of the amount must bring.
    pub ratio: f64,
    /// The prices in words.
    pub words: String,
}

impl Plan {
    /// Key of the measure that is sold: the plan's own, else the primary one.
    pub(crate) fn sold_measure(&self) -> Option<String> {
        let own = self.money.as_ref().and_then(|money| money.measure.clone());
        own.or_else(|| self.primary_measure())
    }

    /// What the product brings: the plan's own price, else that of a claim whose margin comes from money.
    pub(crate) fn product_price(&self) -> Option<Quantity> {
        let own = self.money.as_ref().and_then(|money| money.price);
        own.or_else(|| {
            let sold = self.sold_measure()?;
            let claims = self.question.claims.iter().filter(|claim| claim.measure == sold);
            claims.filter_map(|claim| claim.margin.as_ref()).find_map(|margin| match margin {
                Margin::Money { price, .. } => Some(*price),
                Margin::Size(_) => None,
            })
        })
    }

    /// What an amount of a factor costs against what the product brings; nothing where the plan does not state both, or for a
    /// measure that is not sold.
    pub(crate) fn paying(&self, measure: &str, factor: &Factor) -> Option<Paying> {
        let cost = self.money.as_ref()?.costs.iter().find(|cost| cost.factor == factor.name)?;
        self.sold_measure().filter(|sold| sold == measure)?;
        self.paying_for(cost).and_then(Result::ok)
    }

    /// The same for one cost of the plan.
    ///
    /// # Errors
    /// Why the prices cannot be set against each other.
    pub(crate) fn paying_for(&self, cost: &AmountCost) -> Option<Result<Paying, FindingError>> {
        let (price, sold) = (self.product_price()?, self.sold_measure()?);
        let (name, unit) = self.measured(&sold)?;
        let trade = Trade { crop: self.crop(), currency: self.currency() };
        let margin = Margin::Money { added_cost: cost.cost, price };
        let told = |quantity: Quantity| format!("{} {}", quantity.value, quantity.unit.symbol_in(self.currency()));
        let ratio = margin.in_unit(unit, &name, "money.costs", trade).map(|margin| margin.value / cost.amount);
        let per = format!("{} for {} {}", told(cost.cost), cost.amount, self.amount_unit(&cost.factor));
        Some(ratio.map(|ratio| Paying { ratio, words: format!("a cost of {per} and a price of {}", told(price)) }))
    }

    fn amount_unit(&self, factor: &str) -> &str {
        let found = self.treatments.factors.iter().find(|it| it.name == factor);
        match found.map(|factor| &factor.scale) {
            Some(Scale::Quantitative { unit }) => unit,
            _ => "",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read_plan_file;

    const PLAN: &str = r#"
format = "guardrow plan 1"
[trial]
code = "N-1"
title = "Nitrogen"
season = 2026
currency = "EUR"
[[treatments.factors]]
name = "nitrogen"
scale = { kind = "quantitative", unit = "kg/ha" }
levels = [{ label = "0", amount = 0.0 }, { label = "80", amount = 80.0 }]
[[measures]]
key = "grain"
name = "Grain"
unit = "t/ha"
event = "Harvest"
"#;

    fn plan(money: &str) -> Plan {
        read_plan_file("plan.toml", &format!("{PLAN}{money}")).unwrap_or_else(|error| panic!("{error:?}"))
    }

    // By hand: 60 EUR over 0.20 EUR/kg is 300 kg/ha for 50 kg/ha of nitrogen: 6 kg, or 0.006 t, for each.
    #[test]
    fn a_unit_of_the_amount_must_bring_its_cost_over_the_price() {
        let costs = r#"costs = [{ factor = "nitrogen", amount = 50.0, cost = "60 EUR/ha" }]"#;
        let plan = plan(&format!("[money]\nprice = \"200 EUR/t\"\n{costs}\n"));
        let paying = plan.paying("grain", &plan.treatments.factors[0]).expect("both prices are stated");
        assert!((paying.ratio - 0.006).abs() < 1e-15, "{}", paying.ratio);
        assert_eq!(paying.words, "a cost of 60 EUR/ha for 50 kg/ha and a price of 200 EUR/t");
    }

    #[test]
    fn without_both_prices_nothing_is_made_up() {
        for money in ["", "[money]\nprice = \"200 EUR/t\"\n"] {
            let plan = plan(money);
            assert_eq!(plan.paying("grain", &plan.treatments.factors[0]), None, "{money}");
        }
        let costs = "[money]\ncosts = [{ factor = \"nitrogen\", amount = 50.0, cost = \"60 EUR/ha\" }]\n";
        let plan = plan(costs);
        assert_eq!(plan.paying("grain", &plan.treatments.factors[0]), None);
    }
}
