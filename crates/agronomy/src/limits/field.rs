//! The rows of the table of limits.

use serde::{Deserialize, Serialize};

use super::{Remark, as_given, capitalised};
use crate::crop::{Crop, SourcedRange};
use crate::rounding::shown;
use crate::unit::Unit;

/// A field that a person fills in, by the word of the trade.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Field {
    /// Laboratory germination, %.
    Germination,
    /// Share of viable seeds that come up, %.
    Emergence,
    /// Share of pure seed in a lot, %.
    Purity,
    /// Share of all seeds that become plants, %.
    Survival,
    /// Weight of a thousand kernels, g.
    ThousandKernelWeight,
    /// Target stand, plants/m2.
    TargetStand,
    /// Seeding rate, seeds/m2.
    SeedsPerM2,
    /// Counted stand, plants/m2.
    CountedStand,
    /// Row spacing, m.
    RowSpacing,
    /// Number of rows.
    Rows,
    /// Number of replicates.
    Replicates,
    /// A count of plants, seeds, pods.
    Count,
    /// Plot length, m.
    PlotLength,
    /// Plot width, m.
    PlotWidth,
    /// Alley, trim or overrun, m.
    EndLength,
    /// Area used for a yield, m2.
    YieldArea,
    /// Grain moisture, % wet basis.
    Moisture,
    /// Harvested mass of a plot, kg.
    PlotMass,
    /// Test weight, kg/hL.
    TestWeight,
    /// Protein, %.
    Protein,
    /// Dockage, %.
    Dockage,
    /// Analysis of one nutrient, %.
    NutrientAnalysis,
    /// Rate of a product, kg/ha.
    Rate,
    /// Rate of a liquid product, L/ha.
    LiquidRate,
    /// Spray volume, L/ha.
    Carrier,
    /// Ground speed, km/h.
    Speed,
    /// Nozzle output, L/min.
    NozzleOutput,
    /// Seed put in beyond need, %.
    Overfill,
    /// Seed kept in reserve, %.
    Reserve,
    /// Price, money per kg.
    Price,
    /// Price to divide by, money per kg.
    BreakEvenPrice,
    /// Cost, money per ha.
    Cost,
    /// Temperature, degC.
    Temperature,
}

/// One row: unit, what is refused and what is said about it.
pub(super) struct Row {
    pub words: &'static str,
    pub unit: Unit,
    pub legal: fn(f64) -> bool,
    pub whole: bool,
    pub expected: &'static str,
}

const fn row(words: &'static str, unit: Unit, legal: fn(f64) -> bool, expected: &'static str) -> Row {
    Row { words, unit, legal, whole: false, expected }
}

const fn whole(words: &'static str, legal: fn(f64) -> bool, expected: &'static str) -> Row {
    Row { words, unit: Unit::Count, legal, whole: true, expected }
}

fn above_zero(value: f64) -> bool {
    value > 0.0
}

fn not_negative(value: f64) -> bool {
    value >= 0.0
}

fn share_above_zero(value: f64) -> bool {
    value > 0.0 && value <= 100.0
}

fn share(value: f64) -> bool {
    (0.0..=100.0).contains(&value)
}

const ABOVE_ZERO: &str = "above 0";
const NOT_NEGATIVE: &str = "0 or more";
const SHARE_ABOVE_ZERO: &str = "above 0 and at most 100";
const SHARE: &str = "from 0 to 100";

impl Field {
    /// Every field, in table order.
    pub const ALL: &'static [Field] = &[
        Self::Germination,
        Self::Emergence,
        Self::Purity,
        Self::Survival,
        Self::ThousandKernelWeight,
        Self::TargetStand,
        Self::SeedsPerM2,
        Self::CountedStand,
        Self::RowSpacing,
        Self::Rows,
        Self::Replicates,
        Self::Count,
        Self::PlotLength,
        Self::PlotWidth,
        Self::EndLength,
        Self::YieldArea,
        Self::Moisture,
        Self::PlotMass,
        Self::TestWeight,
        Self::Protein,
        Self::Dockage,
        Self::NutrientAnalysis,
        Self::Rate,
        Self::LiquidRate,
        Self::Carrier,
        Self::Speed,
        Self::NozzleOutput,
        Self::Overfill,
        Self::Reserve,
        Self::Price,
        Self::BreakEvenPrice,
        Self::Cost,
        Self::Temperature,
    ];

    pub(super) const fn row(self) -> Row {
        match self {
            Self::Germination => row("germination", Unit::Percent, share_above_zero, SHARE_ABOVE_ZERO),
            Self::Emergence => row("field emergence", Unit::Percent, share_above_zero, SHARE_ABOVE_ZERO),
            Self::Purity => row("purity", Unit::Percent, share_above_zero, SHARE_ABOVE_ZERO),
            Self::Survival => row("survival", Unit::Percent, share_above_zero, SHARE_ABOVE_ZERO),
            Self::ThousandKernelWeight => {
                row("thousand-kernel weight", Unit::GramPerThousandSeeds, above_zero, ABOVE_ZERO)
            }
            Self::TargetStand => row("target stand", Unit::PlantsPerM2, above_zero, ABOVE_ZERO),
            Self::SeedsPerM2 => row("seeding rate", Unit::SeedsPerM2, above_zero, ABOVE_ZERO),
            Self::CountedStand => row("counted stand", Unit::PlantsPerM2, not_negative, NOT_NEGATIVE),
            Self::RowSpacing => row("row spacing", Unit::Metre, above_zero, ABOVE_ZERO),
            Self::Rows => whole("number of rows", |value| value >= 1.0, "a whole number from 1"),
            Self::Replicates => whole("number of replicates", |value| value >= 1.0, "a whole number from 1"),
            Self::Count => whole("count", not_negative, "a whole number from 0"),
            Self::PlotLength => row("plot length", Unit::Metre, above_zero, ABOVE_ZERO),
            Self::PlotWidth => row("plot width", Unit::Metre, above_zero, ABOVE_ZERO),
            Self::EndLength => row("alley, trim or overrun", Unit::Metre, not_negative, NOT_NEGATIVE),
            Self::YieldArea => row("area used for yield", Unit::SquareMetre, above_zero, ABOVE_ZERO),
            Self::Moisture => {
                row("moisture", Unit::Percent, |value| (0.0..100.0).contains(&value), "0 or more and below 100")
            }
            Self::PlotMass => row("plot mass", Unit::Kilogram, not_negative, NOT_NEGATIVE),
            Self::TestWeight => row("test weight", Unit::KgPerHectolitre, above_zero, ABOVE_ZERO),
            Self::Protein => row("protein", Unit::Percent, share, SHARE),
            Self::Dockage => row("dockage", Unit::Percent, share, SHARE),
            Self::NutrientAnalysis => row("analysis", Unit::Percent, share_above_zero, SHARE_ABOVE_ZERO),
            Self::Rate => row("rate", Unit::KgPerHa, not_negative, NOT_NEGATIVE),
            Self::LiquidRate => row("rate", Unit::LitrePerHa, not_negative, NOT_NEGATIVE),
            Self::Carrier => row("spray volume", Unit::LitrePerHa, not_negative, NOT_NEGATIVE),
            Self::Speed => row("speed", Unit::KmPerHour, above_zero, ABOVE_ZERO),
            Self::NozzleOutput => row("nozzle output", Unit::LitrePerMinute, above_zero, ABOVE_ZERO),
            Self::Overfill => row("overfill", Unit::Percent, share, SHARE),
            Self::Reserve => row("reserve", Unit::Percent, not_negative, NOT_NEGATIVE),
            Self::Price => row("price", Unit::MoneyPerKg, not_negative, NOT_NEGATIVE),
            Self::BreakEvenPrice => row("price", Unit::MoneyPerKg, above_zero, ABOVE_ZERO),
            // A negative cost is a saving.
            Self::Cost => row("cost", Unit::MoneyPerHa, |_| true, "a number"),
            Self::Temperature => row("temperature", Unit::DegC, |value| value >= -273.15, "-273.15 or more"),
        }
    }

    /// Unit in which the field's value is checked.
    #[must_use]
    pub const fn unit(self) -> Unit {
        self.row().unit
    }

    /// The field in words: `row spacing`.
    #[must_use]
    pub const fn words(self) -> &'static str {
        self.row().words
    }

    /// What is allowed, in words: `above 0`.
    #[must_use]
    pub const fn expected(self) -> &'static str {
        self.row().expected
    }

    /// What is doubtful about a legal value.
    pub(super) fn doubts(self, value: f64) -> Vec<Remark> {
        let mut remarks = Vec::new();
        if self.is_share() && value > 0.0 && value <= 1.0 {
            remarks.push(self.fraction_doubt(value));
        } else if self == Self::Survival && value < 40.0 {
            let help = "Canola and flax can be this low; check germination and emergence for other crops.";
            remarks.push(Remark::warn(self.is_given(value, "which is under 40 %"), help));
        }
        remarks.extend(self.range_doubt(value));
        remarks
    }

    /// Percentages that are seldom 1 or less in earnest: all but dockage, which often is.
    fn is_share(self) -> bool {
        self.unit() == Unit::Percent && self != Self::Dockage
    }

    fn fraction_doubt(self, value: f64) -> Remark {
        let sentence = self.is_given(value, "understood as a percentage although it looks like a fraction");
        Remark::warn(
            sentence,
            format!("If you meant {} %, enter that; percentages run from 0 to 100.", shown_short(value * 100.0)),
        )
    }

    fn range_doubt(self, value: f64) -> Option<Remark> {
        let (usual, help) = match self {
            Self::RowSpacing => (0.05..=2.0, "Check the unit of the row spacing."),
            Self::Rows => (1.0..=40.0, "Check the number of rows of one plot."),
            Self::PlotLength => (1.0..=200.0, "Check the unit of the plot length."),
            Self::YieldArea => (1.0..=f64::INFINITY, "Check the harvested length and width and their units."),
            Self::TestWeight => (20.0..=90.0, "Check the unit of the test weight."),
            Self::Protein => (0.0..=60.0, "Check the protein reading."),
            Self::Carrier => (30.0..=1000.0, "Check the unit of the spray volume."),
            Self::Speed => (0.0..=15.0, "Check the unit of the speed."),
            Self::Overfill => (0.0..=50.0, "More than half of the seed would be left over."),
            Self::Temperature => (-50.0..=50.0, "Check the unit and the sensor."),
            Self::PlotMass => (
                f64::MIN_POSITIVE..=f64::INFINITY,
                "Zero counts as a yield; if the plot was not harvested, leave it empty and say why.",
            ),
            Self::Cost => (0.0..=f64::INFINITY, "A negative cost is counted as a saving."),
            _ => return None,
        };
        let outside = !usual.contains(&value);
        outside.then(|| Remark::warn(self.is_given(value, "which is unusual"), help))
    }

    /// What the crop's own ranges make doubtful about a legal value.
    pub(super) fn crop_doubts(self, value: f64, crop: &Crop) -> Vec<Remark> {
        let remark = match self {
            Self::ThousandKernelWeight => outside(self, value, crop.tkw_g.as_ref(), (0.7, 1.3), crop),
            Self::TargetStand => outside(self, value, crop.stand_m2.as_ref(), (0.5, 2.0), crop),
            Self::Moisture => {
                let (low, high) = crop.plausible_moisture_pct();
                (!(low..=high).contains(&value)).then(|| self.outside_band(value, low, high, crop))
            }
            _ => None,
        };
        remark.into_iter().collect()
    }

    fn outside_band(self, value: f64, low: f64, high: f64, crop: &Crop) -> Remark {
        let reason = format!("outside {} to {} for {}", shown_short(low), shown_short(high), crop.name);
        Remark::warn(self.is_given(value, &reason), format!("Check the {} and its unit.", self.words()))
    }

    fn is_given(self, value: f64, reason: &str) -> String {
        capitalised(&format!("{} {}, {reason}.", self.words(), as_given(value, self.unit())))
    }
}

fn outside(field: Field, value: f64, range: Option<&SourcedRange>, widen: (f64, f64), crop: &Crop) -> Option<Remark> {
    let range = range?;
    let (low, high) = (range.low.value * widen.0, range.high.value * widen.1);
    (!range.holds(value, widen.0, widen.1)).then(|| field.outside_band(value, low, high, crop))
}

/// At most two decimals, without trailing zeros.
fn shown_short(value: f64) -> String {
    let text = shown(value, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
