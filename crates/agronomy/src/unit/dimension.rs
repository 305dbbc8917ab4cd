//! What a unit measures.

use serde::{Deserialize, Serialize};

use super::Unit;

/// The kind of quantity that a unit measures. Units convert only within their dimension.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Dimension {
    /// Weight of seed, grain, product.
    Mass,
    /// Row spacing, plot length, height, rain.
    Length,
    /// Plots and fields.
    Area,
    /// Spray, water, stock solutions.
    Volume,
    /// Yields and rates by weight.
    MassPerArea,
    /// Rates by volume.
    VolumePerArea,
    /// Stands and seeding rates by number.
    CountPerArea,
    /// Plants or seeds along a row.
    CountPerLength,
    /// Seeds in a weight of seed.
    CountPerMass,
    /// Pods on a plant, seeds in a pod.
    CountPerCount,
    /// Weight of a stated number of seeds or plants.
    MassPerCount,
    /// In-furrow rates along a row.
    MassPerLength,
    /// Test weight and density.
    MassPerVolume,
    /// A number of things.
    Count,
    /// A share; the canonical unit is percent, 0 to 100.
    Fraction,
    /// A temperature on a scale, converted with its offset.
    Temperature,
    /// A difference between temperatures, converted without offset.
    TemperatureDifference,
    /// Degree days.
    HeatUnits,
    /// A length of time.
    Time,
    /// Lean of a plant, slope.
    Angle,
    /// Ground speed, wind.
    Speed,
    /// Nozzle output.
    VolumePerTime,
    /// Spray pressure.
    Pressure,
    /// An amount in the station's currency.
    Money,
    /// Cost or return of an area.
    MoneyPerArea,
    /// Price of grain or seed.
    MoneyPerMass,
    /// Price of a liquid.
    MoneyPerVolume,
    /// A value on a declared scale; scales are never converted into each other.
    Score,
    /// A bare index or ratio, such as a vegetation index.
    Index,
    /// A calendar day, held as days since 1970-01-01.
    Date,
}

impl Dimension {
    /// The unit in which values of this dimension are kept and computed with.
    #[must_use]
    pub fn canonical(self) -> Unit {
        match self {
            Self::Mass => Unit::Kilogram,
            Self::Length => Unit::Metre,
            Self::Area => Unit::SquareMetre,
            Self::Volume => Unit::Litre,
            Self::MassPerArea => Unit::KgPerHa,
            Self::VolumePerArea => Unit::LitrePerHa,
            Self::CountPerArea => Unit::CountPerM2,
            Self::CountPerLength => Unit::CountPerMetre,
            Self::CountPerMass => Unit::SeedsPerKg,
            Self::CountPerCount => Unit::CountPerPlant,
            Self::MassPerCount => Unit::GramPerThousandSeeds,
            Self::MassPerLength => Unit::GramPerMetre,
            Self::MassPerVolume => Unit::KgPerHectolitre,
            Self::Count => Unit::Count,
            Self::Fraction => Unit::Percent,
            Self::Temperature => Unit::DegC,
            Self::TemperatureDifference => Unit::DegCDifference,
            Self::HeatUnits => Unit::DegCDay,
            Self::Time => Unit::Second,
            Self::Angle => Unit::Degree,
            Self::Speed => Unit::KmPerHour,
            Self::VolumePerTime => Unit::LitrePerMinute,
            Self::Pressure => Unit::Kilopascal,
            Self::Money => Unit::Money,
            Self::MoneyPerArea => Unit::MoneyPerHa,
            Self::MoneyPerMass => Unit::MoneyPerKg,
            Self::MoneyPerVolume => Unit::MoneyPerLitre,
            Self::Score => Unit::Score,
            Self::Index => Unit::Index,
            Self::Date => Unit::Date,
        }
    }

    /// The dimension in words, for messages: "a yield or rate by weight".
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Mass => "a weight",
            Self::Length => "a length",
            Self::Area => "an area",
            Self::Volume => "a volume",
            Self::MassPerArea => "a yield or rate by weight",
            Self::VolumePerArea => "a rate by volume",
            Self::CountPerArea => "a number per area",
            Self::CountPerLength => "a number per length of row",
            Self::CountPerMass => "a number per weight",
            Self::CountPerCount => "a number per plant or per pod",
            Self::MassPerCount => "a weight per number of seeds or plants",
            Self::MassPerLength => "a rate along the row",
            Self::MassPerVolume => "a test weight or density",
            Self::Count => "a number of things",
            Self::Fraction => "a share",
            Self::Temperature => "a temperature",
            Self::TemperatureDifference => "a temperature difference",
            Self::HeatUnits => "a sum of degree days",
            Self::Time => "a length of time",
            Self::Angle => "an angle",
            Self::Speed => "a speed",
            Self::VolumePerTime => "a flow",
            Self::Pressure => "a pressure",
            Self::Money => "an amount of money",
            Self::MoneyPerArea => "money per area",
            Self::MoneyPerMass => "a price per weight",
            Self::MoneyPerVolume => "a price per volume",
            Self::Score => "a score",
            Self::Index => "an index",
            Self::Date => "a date",
        }
    }
}
