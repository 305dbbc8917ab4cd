//! Fertiliser: how much product brings a nutrient, and what else it brings.

use serde::{Deserialize, Serialize};

use crate::amount::GroundArea;
use crate::limits::{Field, Level, Refused, Remark, accept, check_nutrient_sum};
use crate::rounding::shown;
use crate::unit::Unit;

/// P in a weight of P2O5; the tests work it out from atomic masses.
pub const P_IN_P2O5: f64 = 0.43643;
/// K in a weight of K2O; the tests work it out from atomic masses.
pub const K_IN_K2O: f64 = 0.83015;

/// A nutrient as fertiliser bags state it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Nutrient {
    /// N
    Nitrogen,
    /// P2O5
    Phosphate,
    /// K2O
    Potash,
    /// S
    Sulphur,
}

impl Nutrient {
    /// The four nutrients in the order of a bag's analysis.
    pub const ALL: [Self; 4] = [Self::Nitrogen, Self::Phosphate, Self::Potash, Self::Sulphur];

    /// The sign that bags print.
    #[must_use]
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Nitrogen => "N",
            Self::Phosphate => "P2O5",
            Self::Potash => "K2O",
            Self::Sulphur => "S",
        }
    }
}

/// Amounts of the four nutrients, in one unit: % for an analysis, kg/ha for a need or what was applied.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Nutrients {
    /// N
    pub nitrogen: f64,
    /// P2O5
    pub phosphate: f64,
    /// K2O
    pub potash: f64,
    /// S
    pub sulphur: f64,
}

impl Nutrients {
    /// The amount of one nutrient.
    #[must_use]
    pub const fn of(&self, nutrient: Nutrient) -> f64 {
        match nutrient {
            Nutrient::Nitrogen => self.nitrogen,
            Nutrient::Phosphate => self.phosphate,
            Nutrient::Potash => self.potash,
            Nutrient::Sulphur => self.sulphur,
        }
    }

    fn plus_share(self, analysis: Self, product: f64) -> Self {
        let add = |amount: f64, percent: f64| amount + product * percent / 100.0;
        Self {
            nitrogen: add(self.nitrogen, analysis.nitrogen),
            phosphate: add(self.phosphate, analysis.phosphate),
            potash: add(self.potash, analysis.potash),
            sulphur: add(self.sulphur, analysis.sulphur),
        }
    }
}

/// A fertiliser's analysis, % N, P2O5, K2O and S, as on the bag: each 0 to 100, the first three together at most 100.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Analysis(Nutrients);

impl Analysis {
    /// An analysis such as 11-52-0 with 0 % sulphur.
    ///
    /// # Errors
    /// [`Refused`] when a part is outside 0 to 100 or the sum of N, P2O5 and K2O exceeds 100.
    pub fn percent(parts: Nutrients) -> Result<Self, Refused> {
        for nutrient in Nutrient::ALL {
            let part = parts.of(nutrient);
            if !(0.0..=100.0).contains(&part) {
                return Err(Refused::new("analysis", part, Unit::Percent, "from 0 to 100"));
            }
        }
        if check_nutrient_sum(parts.nitrogen, parts.phosphate, parts.potash).is_empty() {
            Ok(Self(parts))
        } else {
            let sum = parts.nitrogen + parts.phosphate + parts.potash;
            Err(Refused::new("sum of N, P2O5 and K2O", sum, Unit::Percent, "at most 100"))
        }
    }

    /// Product that brings a rate of a nutrient: `nutrient / (analysis / 100)`, kg/ha.
    ///
    /// A rate of zero is a check plot and gives zero.
    /// # Errors
    /// [`Refused`] for a negative rate, or a product without the nutrient.
    /// # Source
    /// Handbook of plot arithmetic, 5.1.
    pub fn product_kg_ha(self, nutrient: Nutrient, rate_kg_ha: f64) -> Result<f64, Refused> {
        let rate = accept(Field::Rate, rate_kg_ha)?;
        let percent = accept(Field::NutrientAnalysis, self.0.of(nutrient))?;
        Ok(rate / (percent / 100.0))
    }

    /// Liquid product that brings a rate of a nutrient: `nutrient / (analysis / 100) / density`, L/ha.
    ///
    /// - `density_kg_l`: from the label; there is no default
    /// # Errors
    /// [`Refused`] as for [`Analysis::product_kg_ha`], or for a density that is not above zero.
    /// # Source
    /// Handbook of plot arithmetic, 5.1.
    pub fn product_l_ha(self, nutrient: Nutrient, rate_kg_ha: f64, density_kg_l: f64) -> Result<f64, Refused> {
        if !(density_kg_l.is_finite() && density_kg_l > 0.0) {
            return Err(Refused::new("density", density_kg_l, Unit::KgPerLitre, "above 0"));
        }
        Ok(self.product_kg_ha(nutrient, rate_kg_ha)? / density_kg_l)
    }
}

/// Product of one plot: `kg/ha x area / 10`, g.
///
/// # Errors
/// [`Refused`] for a negative rate.
pub fn plot_grams(product_kg_ha: f64, area: GroundArea) -> Result<f64, Refused> {
    Ok(accept(Field::Rate, product_kg_ha)? * area.in_square_metres() / 10.0)
}

/// Liquid product of one plot: `L/ha x area / 10`, mL.
///
/// # Errors
/// [`Refused`] for a negative rate.
pub fn plot_millilitres(product_l_ha: f64, area: GroundArea) -> Result<f64, Refused> {
    Ok(accept(Field::LiquidRate, product_l_ha)? * area.in_square_metres() / 10.0)
}

/// A weight of product as the trade shows it: to 0.1 g under 100 g, to 1 g from there; a check plot shows 0 g.
#[must_use]
pub fn shown_grams(grams: f64) -> String {
    shown(grams, if grams < 100.0 && grams != 0.0 { 1 } else { 0 })
}

/// Products that together bring several nutrients.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct Mixture {
    /// Rate of each product, kg/ha, in the order in which they were given.
    pub product_kg_ha: Vec<f64>,
    /// Nutrients that are really applied, kg/ha.
    pub applied: Nutrients,
    /// Nutrients applied by more than 5 % beyond the need, or missing.
    pub remarks: Vec<Remark>,
}

/// Fills a need for several nutrients, one product after another: each brings what is still missing of its own
/// nutrient, and everything else that it brings is credited.
///
/// - `need`: kg/ha
/// - `products`: each with the nutrient that it is to bring; the product of the nutrient that binds comes first
/// # Errors
/// [`Refused`] for a negative need, or a product without its nutrient.
/// # Source
/// Handbook of plot arithmetic, 5.1.
pub fn mixture(need: Nutrients, products: &[(Nutrient, Analysis)]) -> Result<Mixture, Refused> {
    for nutrient in Nutrient::ALL {
        accept(Field::Rate, need.of(nutrient))?;
    }
    let mut applied = Nutrients::default();
    let mut product_kg_ha = Vec::with_capacity(products.len());
    for &(nutrient, analysis) in products {
        let missing = (need.of(nutrient) - applied.of(nutrient)).max(0.0);
        let product = analysis.product_kg_ha(nutrient, missing)?;
        applied = applied.plus_share(analysis.0, product);
        product_kg_ha.push(product);
    }
    let remarks = Nutrient::ALL.iter().filter_map(|&nutrient| supply_remark(nutrient, need, applied)).collect();
    Ok(Mixture { product_kg_ha, applied, remarks })
}

fn supply_remark(nutrient: Nutrient, need: Nutrients, applied: Nutrients) -> Option<Remark> {
    let (need, applied) = (need.of(nutrient), applied.of(nutrient));
    let (need_text, applied_text) = (shown(need, 1), shown(applied, 1));
    let sign = nutrient.sign();
    // Room for the noise of adding shares.
    if applied > need * 1.05 + 1e-9 {
        let sentence = format!("{applied_text} kg/ha {sign} is applied where {need_text} is needed.");
        return Some(Remark::new(Level::Warn, sentence, "Choose another product or another order of products."));
    }
    if applied < need - 1e-9 * need.max(1.0) {
        let sentence = format!("Only {applied_text} kg/ha {sign} is applied where {need_text} is needed.");
        return Some(Remark::new(Level::Warn, sentence, "Add a product for this nutrient."));
    }
    None
}
