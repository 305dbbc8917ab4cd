//! A value with its unit.

use std::fmt;
use std::str::FromStr;

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use utoipa::openapi::schema::{Schema, SchemaType, Type};
use utoipa::openapi::{ObjectBuilder, RefOr};

use super::error::clipped;
use super::number::leading_number;
use super::{DecimalMark, Dimension, NumberError, Unit, UnitError, civil_date, day_number};
use crate::crop::{Bushel, Crop};

/// A value that carries its unit. Reads and writes as text: `250 kg/ha`.
///
/// A date is held as days since 1970-01-01 in [`Unit::Date`] and reads and writes as `2026-05-14`.
/// # Example
/// ```
/// use guardrow_agronomy::unit::{Quantity, Unit};
/// let rate = Quantity::parse("80 lb/ac")?;
/// assert!((rate.to(Unit::KgPerHa)? - 89.668).abs() < 0.001);
/// assert!(Quantity::parse("80").is_err());
/// # Ok::<(), guardrow_agronomy::unit::UnitError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    /// The number, in `unit`.
    pub value: f64,
    /// The unit of the number.
    pub unit: Unit,
}

impl Quantity {
    /// A value in a unit.
    #[must_use]
    pub const fn new(value: f64, unit: Unit) -> Self {
        Self { value, unit }
    }

    /// Reads a number with a decimal point and its unit: `3.5 kg/ha`, `14%`, `2026-05-14`.
    ///
    /// # Errors
    /// [`UnitError::MissingUnit`] for a bare number, and whatever is wrong with the number or the unit.
    pub fn parse(text: &str) -> Result<Self, UnitError> {
        Self::parse_with(text, DecimalMark::Point)
    }

    /// Reads a number with a decimal comma and its unit: `3,5 kg/ha`.
    ///
    /// # Errors
    /// As for [`Quantity::parse`].
    pub fn parse_decimal_comma(text: &str) -> Result<Self, UnitError> {
        Self::parse_with(text, DecimalMark::Comma)
    }

    /// Reads a number with the stated decimal mark and its unit.
    ///
    /// # Errors
    /// As for [`Quantity::parse`].
    pub fn parse_with(text: &str, mark: DecimalMark) -> Result<Self, UnitError> {
        let text = text.trim();
        if text.is_empty() {
            return Err(UnitError::MissingUnit { text: String::new() });
        }
        if let Some(day) = day_from_text(text) {
            return Ok(Self::new(day?, Unit::Date));
        }
        let (value, rest) = leading_number(text, mark)?;
        if rest.is_empty() {
            return Err(UnitError::MissingUnit { text: clipped(text) });
        }
        let unit = Unit::parse(rest)?;
        if unit == Unit::Date {
            // "20000 date" would be a day number that no person means.
            return Err(NumberError::NotANumber { text: text.to_owned() }.into());
        }
        Ok(Self { value, unit })
    }

    /// The value in another unit of the same dimension.
    ///
    /// # Errors
    /// [`UnitError::Incompatible`] across dimensions, between counts of different things and between scores;
    /// [`UnitError::CropNeeded`] between bushels and other weights (see [`Quantity::to_for_crop`]).
    pub fn to(self, unit: Unit) -> Result<f64, UnitError> {
        self.convert(unit, None)
    }

    /// The value in another unit, with the crop's Canadian trade bushel where bushels are involved.
    ///
    /// # Errors
    /// As for [`Quantity::to`], and [`UnitError::NoBushel`] for a crop without a bushel weight on file.
    /// # Source
    /// A trade bushel is a legal number of pounds per crop, whatever the test weight: `kg/ha = bu/ac x W x
    /// 1.1208511562`.
    pub fn to_for_crop(self, unit: Unit, crop: &Crop) -> Result<f64, UnitError> {
        if self.unit.row().bushel_power == unit.row().bushel_power {
            return self.to(unit);
        }
        let bushel = crop.bushel().ok_or_else(|| UnitError::NoBushel { crop: crop.name.clone() })?;
        self.to_with_bushel(unit, bushel)
    }

    /// The value in another unit, with a stated bushel weight where bushels are involved.
    ///
    /// # Errors
    /// As for [`Quantity::to`].
    pub fn to_with_bushel(self, unit: Unit, bushel: Bushel) -> Result<f64, UnitError> {
        self.convert(unit, Some(bushel))
    }

    /// The same quantity in another unit.
    ///
    /// # Errors
    /// As for [`Quantity::to`].
    pub fn in_unit(self, unit: Unit) -> Result<Self, UnitError> {
        Ok(Self::new(self.to(unit)?, unit))
    }

    fn convert(self, unit: Unit, bushel: Option<Bushel>) -> Result<f64, UnitError> {
        if self.unit == unit {
            return Ok(self.value);
        }
        let (from, to) = (self.unit.row(), unit.row());
        let same_things = from.counted == to.counted || from.counted.is_empty() || to.counted.is_empty();
        if from.dimension != to.dimension || !same_things {
            return Err(UnitError::Incompatible { from: self.unit, to: unit });
        }
        let bushels = match (from.bushel_power - to.bushel_power, bushel) {
            (0, _) => 1.0,
            (power, Some(bushel)) => bushel.in_pounds().powi(power),
            (_, None) => return Err(UnitError::CropNeeded { from: self.unit, to: unit }),
        };
        let scaled = (self.value + from.shift) * (from.numerator * to.denominator * bushels);
        Ok(scaled / (from.denominator * to.numerator) - to.shift)
    }
}

/// The day number of `2026-05-14`, an error for a day that no calendar has, nothing for a text of another shape.
fn day_from_text(text: &str) -> Option<Result<f64, NumberError>> {
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts[..] else { return None };
    let shaped = [(year, 4), (month, 2), (day, 2)]
        .iter()
        .all(|(part, digits)| part.len() == *digits && part.bytes().all(|b| b.is_ascii_digit()));
    if !shaped {
        return None;
    }
    let number = day_number(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?);
    Some(number.map(|days| days as f64).ok_or_else(|| NumberError::NotADate { text: text.to_owned() }))
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.unit.dimension() == Dimension::Date
            && let Some((year, month, day)) = civil_date(self.value.round() as i64)
        {
            return write!(f, "{year:04}-{month:02}-{day:02}");
        }
        // Adding zero turns a negative zero into zero.
        write!(f, "{} {}", self.value + 0.0, self.unit)
    }
}

impl FromStr for Quantity {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        Self::parse(text)
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.symbol())
    }
}

impl FromStr for Unit {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        Self::parse(text)
    }
}

/// The message and what to try, for readers of files and requests, who get one text.
fn told(error: &UnitError) -> String {
    format!("{error}. {}", error.help())
}

impl Serialize for Unit {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.symbol())
    }
}

impl<'de> Deserialize<'de> for Unit {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::parse(&text).map_err(|error| D::Error::custom(told(&error)))
    }
}

impl Serialize for Quantity {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Quantity {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::parse(&text).map_err(|error| D::Error::custom(told(&error)))
    }
}

fn text_schema(description: &str) -> RefOr<Schema> {
    ObjectBuilder::new().schema_type(SchemaType::new(Type::String)).description(Some(description)).into()
}

impl utoipa::PartialSchema for Unit {
    fn schema() -> RefOr<Schema> {
        text_schema("Symbol of a unit of the unit table, such as `kg/ha`.")
    }
}

impl utoipa::ToSchema for Unit {}

impl utoipa::PartialSchema for Quantity {
    fn schema() -> RefOr<Schema> {
        text_schema("A number and its unit, such as `250 kg/ha`; a date is written `2026-05-14`.")
    }
}

impl utoipa::ToSchema for Quantity {}
