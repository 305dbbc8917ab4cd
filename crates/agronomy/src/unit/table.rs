//! The unit table: one row per unit, with its exact size.

use super::Dimension;
use super::Dimension::{
    Angle, Area, Count, CountPerArea, CountPerCount, CountPerLength, CountPerMass, Date, Fraction, HeatUnits, Index,
    Length, Mass, MassPerArea, MassPerCount, MassPerLength, MassPerVolume, Money, MoneyPerArea, MoneyPerMass,
    MoneyPerVolume, Pressure, Score, Speed, Temperature, TemperatureDifference, Time, Volume, VolumePerArea,
    VolumePerTime,
};

// Exact sizes. Yard, acre, pound, imperial gallon: Weights and Measures Act (Canada), R.S.C. 1985 c. W-6, Schedule II.
// US gallon 231 cubic inches: NIST Handbook 44, Appendix C (from memory). Winchester bushel 2150.42 cubic inches: NIST
// Weights and Measures newsletter, 2013.
const INCH_M: f64 = 0.0254;
const FOOT_M: f64 = 0.3048;
const YARD_M: f64 = 0.9144;
const MILE_KM: f64 = 1.609344;
const SQUARE_FOOT_M2: f64 = 0.09290304;
const ACRE_M2: f64 = 4046.8564224;
const ACRE_HA: f64 = 0.40468564224;
const POUND_KG: f64 = 0.45359237;
const OUNCE_KG: f64 = 0.028349523125;
const IMPERIAL_GALLON_L: f64 = 4.54609;
const US_GALLON_L: f64 = 3.785411784;
const WINCHESTER_BUSHEL_HL: f64 = 0.3523907016688;
const IMPERIAL_BUSHEL_HL: f64 = 0.3636872;
const STANDARD_GRAVITY: f64 = 9.80665;

/// One row of the table.
#[derive(Debug, Clone, Copy)]
pub(super) struct Row {
    pub symbol: &'static str,
    pub dimension: Dimension,
    /// Size in the dimension's canonical unit is `numerator / denominator`; kept as two numbers so that, for example,
    /// kilograms to grams is one exact multiplication by 1000.
    pub numerator: f64,
    pub denominator: f64,
    /// Added to a value before it is scaled (degrees Fahrenheit only).
    pub shift: f64,
    /// Power of the crop's bushel weight in pounds that the size still lacks.
    pub bushel_power: i32,
    /// What is counted, where counts of different things must not be converted into each other; empty for anything.
    pub counted: &'static str,
    /// Other spellings that people write.
    pub spellings: &'static [&'static str],
}

impl Row {
    const fn new(symbol: &'static str, dimension: Dimension, numerator: f64, denominator: f64) -> Self {
        Self { symbol, dimension, numerator, denominator, shift: 0.0, bushel_power: 0, counted: "", spellings: &[] }
    }

    const fn also(mut self, spellings: &'static [&'static str]) -> Self {
        self.spellings = spellings;
        self
    }

    const fn counting(mut self, counted: &'static str) -> Self {
        self.counted = counted;
        self
    }

    const fn bushels(mut self, power: i32) -> Self {
        self.bushel_power = power;
        self
    }

    const fn shifted(mut self, shift: f64) -> Self {
        self.shift = shift;
        self
    }
}

macro_rules! units {
    ($($name:ident: $symbol:literal, $dimension:ident, $numerator:expr, $denominator:expr $(, $refine:ident($argument:expr))*;)+) => {
        /// A unit of the table. Reads and writes as its symbol.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Unit {
            $(#[doc = concat!("`", $symbol, "`")] $name,)+
        }

        impl Unit {
            /// Every unit of the table, in table order.
            pub const ALL: &'static [Unit] = &[$(Unit::$name,)+];

            pub(super) const fn row(self) -> Row {
                match self {
                    $(Unit::$name => Row::new($symbol, $dimension, $numerator, $denominator)$(.$refine($argument))*,)+
                }
            }
        }
    };
}

units! {
    Milligram: "mg", Mass, 1.0, 1e6;
    Gram: "g", Mass, 1.0, 1000.0;
    Kilogram: "kg", Mass, 1.0, 1.0;
    Tonne: "t", Mass, 1000.0, 1.0, also(&["metric ton"]);
    Pound: "lb", Mass, POUND_KG, 1.0;
    OunceMass: "oz (mass)", Mass, OUNCE_KG, 1.0, also(&["oz av", "oz avdp", "oz wt", "oz weight"]);
    // The cental of 100 lb, as in Canada and the United States; the British hundredweight is 112 lb (from memory).
    Hundredweight: "cwt", Mass, 100.0 * POUND_KG, 1.0, also(&["cental"]);
    ShortTon: "short ton", Mass, 2000.0 * POUND_KG, 1.0, also(&["us ton"]);
    Bushel: "bu", Mass, POUND_KG, 1.0, bushels(1);

    Millimetre: "mm", Length, 1.0, 1000.0;
    Centimetre: "cm", Length, 1.0, 100.0;
    Metre: "m", Length, 1.0, 1.0;
    Kilometre: "km", Length, 1000.0, 1.0;
    Inch: "in", Length, INCH_M, 1.0;
    Foot: "ft", Length, FOOT_M, 1.0;
    Yard: "yd", Length, YARD_M, 1.0;
    Mile: "mi", Length, 1000.0 * MILE_KM, 1.0;

    SquareCentimetre: "cm2", Area, 1.0, 10_000.0;
    SquareMetre: "m2", Area, 1.0, 1.0;
    Hectare: "ha", Area, 10_000.0, 1.0;
    SquareFoot: "ft2", Area, SQUARE_FOOT_M2, 1.0;
    Acre: "ac", Area, ACRE_M2, 1.0;

    Millilitre: "mL", Volume, 1.0, 1000.0, also(&["cc", "cm3"]);
    Litre: "L", Volume, 1.0, 1.0;
    Hectolitre: "hL", Volume, 100.0, 1.0;
    CubicMetre: "m3", Volume, 1000.0, 1.0;
    UsGallon: "US gal", Volume, US_GALLON_L, 1.0;
    UsQuart: "US qt", Volume, US_GALLON_L, 4.0;
    UsPint: "US pt", Volume, US_GALLON_L, 8.0;
    UsFluidOunce: "US fl oz", Volume, US_GALLON_L, 128.0;
    ImperialGallon: "imp gal", Volume, IMPERIAL_GALLON_L, 1.0;
    ImperialQuart: "imp qt", Volume, IMPERIAL_GALLON_L, 4.0;
    ImperialPint: "imp pt", Volume, IMPERIAL_GALLON_L, 8.0;
    ImperialFluidOunce: "imp fl oz", Volume, IMPERIAL_GALLON_L, 160.0;

    KgPerHa: "kg/ha", MassPerArea, 1.0, 1.0;
    TonnePerHa: "t/ha", MassPerArea, 1000.0, 1.0, also(&["Mg/ha", "metric ton/ha"]);
    GramPerHa: "g/ha", MassPerArea, 1.0, 1000.0;
    GramPerM2: "g/m2", MassPerArea, 10.0, 1.0;
    KgPerM2: "kg/m2", MassPerArea, 10_000.0, 1.0;
    LbPerAc: "lb/ac", MassPerArea, POUND_KG, ACRE_HA;
    CwtPerAc: "cwt/ac", MassPerArea, 100.0 * POUND_KG, ACRE_HA;
    ShortTonPerAc: "short ton/ac", MassPerArea, 2000.0 * POUND_KG, ACRE_HA, also(&["us ton/ac"]);
    OuncePerAc: "oz (mass)/ac", MassPerArea, OUNCE_KG, ACRE_HA, also(&["oz av/ac"]);
    BuPerAc: "bu/ac", MassPerArea, POUND_KG, ACRE_HA, bushels(1), also(&["bpa"]);
    BuPerHa: "bu/ha", MassPerArea, POUND_KG, 1.0, bushels(1);

    LitrePerHa: "L/ha", VolumePerArea, 1.0, 1.0;
    MillilitrePerHa: "mL/ha", VolumePerArea, 1.0, 1000.0;
    UsGallonPerAc: "US gal/ac", VolumePerArea, US_GALLON_L, ACRE_HA;
    UsQuartPerAc: "US qt/ac", VolumePerArea, US_GALLON_L / 4.0, ACRE_HA;
    UsPintPerAc: "US pt/ac", VolumePerArea, US_GALLON_L / 8.0, ACRE_HA;
    UsFluidOuncePerAc: "US fl oz/ac", VolumePerArea, US_GALLON_L / 128.0, ACRE_HA;
    ImperialGallonPerAc: "imp gal/ac", VolumePerArea, IMPERIAL_GALLON_L, ACRE_HA;

    CountPerM2: "count/m2", CountPerArea, 1.0, 1.0, also(&["no/m2", "number/m2", "1/m2", "#/m2"]);
    CountPerHa: "count/ha", CountPerArea, 1.0, 10_000.0, also(&["no/ha", "number/ha", "1/ha", "#/ha"]);
    CountPerAc: "count/ac", CountPerArea, 1.0, ACRE_M2, also(&["no/ac", "number/ac", "1/ac", "#/ac"]);
    PlantsPerM2: "plants/m2", CountPerArea, 1.0, 1.0, counting("plants"), also(&["pl/m2"]);
    PlantsPerHa: "plants/ha", CountPerArea, 1.0, 10_000.0, counting("plants"), also(&["pl/ha"]);
    PlantsPerAc: "plants/ac", CountPerArea, 1.0, ACRE_M2, counting("plants"), also(&["pl/ac"]);
    PlantsPerFt2: "plants/ft2", CountPerArea, 1.0, SQUARE_FOOT_M2, counting("plants"), also(&["pl/ft2"]);
    SeedsPerM2: "seeds/m2", CountPerArea, 1.0, 1.0, counting("seeds");
    SeedsPerHa: "seeds/ha", CountPerArea, 1.0, 10_000.0, counting("seeds");
    SeedsPerAc: "seeds/ac", CountPerArea, 1.0, ACRE_M2, counting("seeds");
    SeedsPerFt2: "seeds/ft2", CountPerArea, 1.0, SQUARE_FOOT_M2, counting("seeds");
    HeadsPerM2: "heads/m2", CountPerArea, 1.0, 1.0, counting("heads"), also(&["ears/m2", "spikes/m2"]);
    StemsPerM2: "stems/m2", CountPerArea, 1.0, 1.0, counting("stems"), also(&["tillers/m2", "shoots/m2"]);
    PodsPerM2: "pods/m2", CountPerArea, 1.0, 1.0, counting("pods");

    CountPerMetre: "count/m", CountPerLength, 1.0, 1.0, also(&["no/m", "number/m", "1/m"]);
    PlantsPerMetre: "plants/m", CountPerLength, 1.0, 1.0, counting("plants"), also(&["plants/m row", "plants/m of row"]);
    PlantsPerFoot: "plants/ft", CountPerLength, 1.0, FOOT_M, counting("plants"), also(&["plants/ft row", "plants/ft of row"]);
    SeedsPerMetre: "seeds/m", CountPerLength, 1.0, 1.0, counting("seeds"), also(&["seeds/m row", "seeds/m of row"]);
    SeedsPerFoot: "seeds/ft", CountPerLength, 1.0, FOOT_M, counting("seeds"), also(&["seeds/ft row", "seeds/ft of row"]);

    SeedsPerKg: "seeds/kg", CountPerMass, 1.0, 1.0;
    SeedsPerLb: "seeds/lb", CountPerMass, 1.0, POUND_KG;

    CountPerPlant: "count/plant", CountPerCount, 1.0, 1.0, also(&["no/plant", "number/plant"]);
    PodsPerPlant: "pods/plant", CountPerCount, 1.0, 1.0, counting("pods per plant");
    NodulesPerPlant: "nodules/plant", CountPerCount, 1.0, 1.0, counting("nodules per plant");
    HeadsPerPlant: "heads/plant", CountPerCount, 1.0, 1.0, counting("heads per plant"), also(&["ears/plant"]);
    StemsPerPlant: "stems/plant", CountPerCount, 1.0, 1.0, counting("stems per plant"), also(&["tillers/plant"]);
    SeedsPerPod: "seeds/pod", CountPerCount, 1.0, 1.0, counting("seeds per pod");
    SeedsPerHead: "seeds/head", CountPerCount, 1.0, 1.0, counting("seeds per head"), also(&["seeds/ear"]);

    GramPerThousandSeeds: "g/1000 seeds", MassPerCount, 1.0, 1.0, counting("seeds"),
        also(&["g/1000", "g/1000 grains", "g/thousand seeds", "g tkw"]);
    MilligramPerSeed: "mg/seed", MassPerCount, 1.0, 1.0, counting("seeds");
    GramPerPlant: "g/plant", MassPerCount, 1000.0, 1.0, counting("plants");
    MilligramPerPlant: "mg/plant", MassPerCount, 1.0, 1.0, counting("plants");

    GramPerMetre: "g/m", MassPerLength, 1.0, 1.0, also(&["g/m row", "g/m of row"]);
    GramPerHundredMetres: "g/100 m", MassPerLength, 1.0, 100.0, also(&["g/100m"]);
    OuncePerThousandFeet: "oz (mass)/1000 ft", MassPerLength, OUNCE_KG, FOOT_M, also(&["oz av/1000 ft", "oz mass/1000ft"]);

    KgPerHectolitre: "kg/hL", MassPerVolume, 1.0, 1.0;
    GramPerHalfLitre: "g/0.5 L", MassPerVolume, 1.0, 5.0, also(&["g/0.5L", "g/half L"]);
    GramPerLitre: "g/L", MassPerVolume, 1.0, 10.0, also(&["kg/m3"]);
    KgPerLitre: "kg/L", MassPerVolume, 100.0, 1.0, also(&["g/mL", "g/cm3"]);
    LbPerWinchesterBushel: "lb/Winchester bu", MassPerVolume, POUND_KG, WINCHESTER_BUSHEL_HL, also(&["lb/US bu"]);
    LbPerImperialBushel: "lb/imperial bu", MassPerVolume, POUND_KG, IMPERIAL_BUSHEL_HL, also(&["lb/imp bu"]);

    Count: "count", Count, 1.0, 1.0, also(&["number", "no", "no.", "n", "#"]);
    Plants: "plants", Count, 1.0, 1.0, counting("plants");
    Seeds: "seeds", Count, 1.0, 1.0, counting("seeds");
    ThousandSeeds: "thousand seeds", Count, 1000.0, 1.0, counting("seeds");

    Percent: "%", Fraction, 1.0, 1.0, also(&["percent", "per cent", "pct"]);
    Share: "fraction", Fraction, 100.0, 1.0, also(&["share", "proportion"]);
    GramPerKg: "g/kg", Fraction, 1.0, 10.0;
    MilligramPerKg: "mg/kg", Fraction, 1.0, 10_000.0, also(&["ppm"]);

    DegC: "degC", Temperature, 1.0, 1.0, also(&["C", "deg C", "Celsius", "degrees C"]);
    DegF: "degF", Temperature, 5.0, 9.0, shifted(-32.0), also(&["F", "deg F", "Fahrenheit", "degrees F"]);
    DegCDifference: "degC difference", TemperatureDifference, 1.0, 1.0, also(&["K", "kelvin", "delta degC"]);
    DegFDifference: "degF difference", TemperatureDifference, 5.0, 9.0, also(&["delta degF"]);
    DegCDay: "degC d", HeatUnits, 1.0, 1.0, also(&["GDD", "GDD C", "K d", "degC days"]);
    DegFDay: "degF d", HeatUnits, 5.0, 9.0, also(&["GDD F", "degF days"]);

    Second: "s", Time, 1.0, 1.0, also(&["sec", "seconds", "second"]);
    Minute: "min", Time, 60.0, 1.0;
    Hour: "h", Time, 3600.0, 1.0;
    Day: "d", Time, 86_400.0, 1.0;
    Week: "wk", Time, 604_800.0, 1.0, also(&["week", "weeks"]);

    Degree: "deg", Angle, 1.0, 1.0, also(&["degree", "degrees"]);

    MetrePerSecond: "m/s", Speed, 18.0, 5.0;
    KmPerHour: "km/h", Speed, 1.0, 1.0, also(&["kph", "kmh"]);
    MilePerHour: "mph", Speed, MILE_KM, 1.0, also(&["mi/h"]);

    LitrePerMinute: "L/min", VolumePerTime, 1.0, 1.0;
    MillilitrePerMinute: "mL/min", VolumePerTime, 1.0, 1000.0;
    UsGallonPerMinute: "US gal/min", VolumePerTime, US_GALLON_L, 1.0;

    Kilopascal: "kPa", Pressure, 1.0, 1.0;
    Bar: "bar", Pressure, 100.0, 1.0;
    Psi: "psi", Pressure, POUND_KG * STANDARD_GRAVITY, 1000.0 * INCH_M * INCH_M, also(&["lb/in2"]);

    // A station keeps one currency; the table does not exchange currencies.
    Money: "money", Money, 1.0, 1.0;
    MoneyPerHa: "money/ha", MoneyPerArea, 1.0, 1.0;
    MoneyPerAc: "money/ac", MoneyPerArea, 1.0, ACRE_HA;
    MoneyPerKg: "money/kg", MoneyPerMass, 1.0, 1.0;
    MoneyPerTonne: "money/t", MoneyPerMass, 1.0, 1000.0;
    MoneyPerLb: "money/lb", MoneyPerMass, 1.0, POUND_KG;
    MoneyPerCwt: "money/cwt", MoneyPerMass, 1.0, 100.0 * POUND_KG;
    MoneyPerBu: "money/bu", MoneyPerMass, 1.0, POUND_KG, bushels(-1);
    MoneyPerLitre: "money/L", MoneyPerVolume, 1.0, 1.0;
    MoneyPerUsGallon: "money/US gal", MoneyPerVolume, 1.0, US_GALLON_L;

    Score: "score", Score, 1.0, 1.0, also(&["rating", "grade"]);
    Index: "index", Index, 1.0, 1.0, also(&["ratio", "none", "unitless", "dimensionless", "-", "ndvi"]);
    Date: "date", Date, 1.0, 1.0, also(&["calendar day"]);
}

impl Unit {
    /// The symbol that is stored, printed and read back: `kg/ha`.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        self.row().symbol
    }

    /// What the unit measures.
    #[must_use]
    pub const fn dimension(self) -> Dimension {
        self.row().dimension
    }

    /// Other spellings that are understood, as people write them.
    #[must_use]
    pub const fn spellings(self) -> &'static [&'static str] {
        self.row().spellings
    }

    /// Whether the unit's size depends on the crop's bushel weight.
    #[must_use]
    pub const fn needs_bushel(self) -> bool {
        self.row().bushel_power != 0
    }

    /// What the unit counts (`plants`, `seeds`), or nothing when it counts anything.
    ///
    /// A number of plants never converts into a number of seeds, although both are numbers per area.
    #[must_use]
    pub fn counted(self) -> Option<&'static str> {
        Some(self.row().counted).filter(|counted| !counted.is_empty())
    }

    /// The symbol with the station's currency in the place of `money`: `EUR/ha`.
    #[must_use]
    pub fn symbol_in(self, currency: &str) -> String {
        self.symbol().replacen("money", currency, 1)
    }

    /// Every unit of a dimension, for a choice list.
    pub fn of(dimension: Dimension) -> impl Iterator<Item = Unit> {
        Self::ALL.iter().copied().filter(move |unit| unit.dimension() == dimension)
    }
}
