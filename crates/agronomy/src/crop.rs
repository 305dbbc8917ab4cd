//! Crops and their constants, each with its source.
//!
//! The constants are a table in `data/crops.csv`; what its source keys stand for is in `data/crop-sources.csv`.
//! A constant whose source is `memory` is a default that a station may change, never a hard limit.

mod bushel;
mod names;
mod table;

use serde::Serialize;

pub use bushel::{Bushel, Trade};
pub use names::UnknownCrop;

/// A crop constant with the key of its source.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct Sourced<T> {
    /// The constant; its unit is in the field's description.
    pub value: T,
    /// Key of the source, explained by [`source`]; `memory` means believed, not confirmed.
    pub source: String,
}

/// The usual range of a crop constant, each end with the key of its source.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct SourcedRange {
    /// Lower end.
    pub low: Sourced<f64>,
    /// Upper end.
    pub high: Sourced<f64>,
}

impl SourcedRange {
    /// Whether a value lies in the range widened at both ends: `low x shrink` to `high x stretch`.
    #[must_use]
    pub fn holds(&self, value: f64, shrink: f64, stretch: f64) -> bool {
        (self.low.value * shrink..=self.high.value * stretch).contains(&value)
    }
}

/// Where the growing point of a seedling is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum GrowingPoint {
    /// Exposed above the soil.
    Above,
    /// Protected below the soil.
    Below,
}

/// One crop's constants. Absent means that no value is known: show nothing, fill in nothing.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct Crop {
    /// The crop's name, unique: `field pea`.
    pub name: String,
    /// Latin name.
    pub latin_name: Sourced<String>,
    /// Warm or cool season.
    pub season: Sourced<String>,
    /// Usual thousand-kernel weight over classes and varieties, g.
    pub tkw_g: Option<SourcedRange>,
    /// Default moisture at which yield is quoted, % wet basis.
    pub standard_moisture_pct: Option<Sourced<f64>>,
    /// Highest moisture that is still dry ("straight") in Canadian law, % wet basis.
    pub straight_moisture_canada_pct: Option<Sourced<f64>>,
    /// Pounds in a bushel of the Canadian trade.
    pub bushel_lb: Option<Sourced<f64>>,
    /// Pounds in a bushel of the United States trade.
    pub bushel_us_lb: Option<Sourced<f64>>,
    /// Test weight of ordinary sound grain, kg/hL.
    pub test_weight_kg_hl: Option<Sourced<f64>>,
    /// Legal minimum test weight of the top Canadian grade, kg/hL.
    pub test_weight_top_grade_canada_kg_hl: Option<Sourced<f64>>,
    /// Target live plants per m2.
    pub stand_m2: Option<SourcedRange>,
    /// Lowest seedbed temperature listed for germination, degC.
    pub seedbed_minimum_deg_c: Option<Sourced<f64>>,
    /// Seedbed temperature at which advisers say to start, degC.
    pub seedbed_advised_deg_c: Option<Sourced<f64>>,
    /// Base of growing degree days, degC.
    pub heat_base_deg_c: Option<Sourced<f64>>,
    /// Upper cutoff of growing degree days, degC.
    pub heat_upper_deg_c: Option<Sourced<f64>>,
    /// Where the growing point of a seedling is.
    pub growing_point: Option<Sourced<GrowingPoint>>,
    /// Whether a seedling can grow again from buds after its top is killed: `yes`, `no`, `limited`.
    pub regrows_from_buds: Option<Sourced<String>>,
    /// Air temperature at which spring frost damage may begin, degC.
    pub spring_frost_damage_deg_c: Option<Sourced<f64>>,
    /// Air temperature at which plants may be lost in spring, degC.
    pub spring_frost_kill_deg_c: Option<Sourced<f64>>,
    /// Air temperature that ends grain filling in fall, degC.
    pub fall_frost_kill_deg_c: Option<Sourced<f64>>,
    /// What the maturity range counts: `days seeding to maturity`, `CHU` and so on.
    pub maturity_measure: Option<Sourced<String>>,
    /// Time or heat to maturity, in `maturity_measure`.
    pub maturity: Option<SourcedRange>,
    /// Whether the crop nodulates.
    pub nodulating: Option<Sourced<bool>>,
    /// Seeding depth, cm.
    pub depth_cm: Option<SourcedRange>,
    /// Remarks on the constants.
    pub notes: String,
}

/// Band of plausible grain moisture at harvest, % wet basis, for a crop with no band of its own.
///
/// Common practice, no source.
const PLAUSIBLE_MOISTURE_PCT: (f64, f64) = (3.0, 40.0);

impl Crop {
    /// The crop's bushel in the Canadian trade, the default; nothing when none is on file.
    #[must_use]
    pub fn bushel(&self) -> Option<Bushel> {
        self.bushel_in(Trade::Canada)
    }

    /// The crop's bushel in a country's trade (oat is 34 lb in Canada, 32 lb in the United States).
    #[must_use]
    pub fn bushel_in(&self, trade: Trade) -> Option<Bushel> {
        let pounds = match trade {
            Trade::Canada => &self.bushel_lb,
            Trade::UnitedStates => &self.bushel_us_lb,
        };
        pounds.as_ref().and_then(|pounds| Bushel::pounds(pounds.value).ok())
    }

    /// Grain moisture below or above which a reading is doubted, % wet basis.
    ///
    /// Soybean 5 to 30 (handbook of plot arithmetic, 7.1); other crops 3 to 40 (common practice, no source).
    #[must_use]
    pub fn plausible_moisture_pct(&self) -> (f64, f64) {
        if self.name == "soybean" { (5.0, 30.0) } else { PLAUSIBLE_MOISTURE_PCT }
    }
}

/// Every crop of the table, in table order.
#[must_use]
pub fn crops() -> &'static [Crop] {
    table::crops()
}

/// Finds a crop by its name, its Latin name, or a common other name; capitals do not matter.
///
/// # Errors
/// [`UnknownCrop`] with the nearest name when one is near.
/// # Example
/// ```
/// use guardrow_agronomy::crop::crop;
/// assert_eq!(crop("Barley")?.standard_moisture_pct.as_ref().map(|pct| pct.value), Some(14.8));
/// assert_eq!(crop("barly").unwrap_err().suggestion, Some("barley"));
/// # Ok::<(), guardrow_agronomy::crop::UnknownCrop>(())
/// ```
pub fn crop(name: &str) -> Result<&'static Crop, UnknownCrop> {
    names::find(name)
}

/// What a source key of the crop table stands for.
#[must_use]
pub fn source(key: &str) -> Option<&'static str> {
    table::sources().get(key).map(String::as_str)
}
