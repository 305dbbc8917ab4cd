//! The one table of legal and doubtful ranges, used by forms, imports and the programming interface alike.
//!
//! Three levels: *refuse* gives no result, *warn* gives a marked one, *note* gives a result with a remark. A value that
//! is not finite is always refused. Zero is a value; a missing value is none and never comes here.

mod field;
mod related;

pub use field::Field;
pub use related::{
    check_dates, check_nutrient_sum, check_plot_masses, check_scores, check_temperatures, check_yield_area,
};

use serde::{Deserialize, Serialize};

use crate::crop::Crop;
use crate::rounding::half_away;
use crate::unit::{Quantity, Unit, UnitError};

/// How serious a remark on a value is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// The result stands, with a remark.
    Note,
    /// The result stands, marked as doubtful.
    Warn,
    /// There is no result.
    Refuse,
}

/// One remark on a value that a person gave.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Remark {
    /// How serious it is.
    pub level: Level,
    /// What is doubtful or wrong, in one sentence.
    pub sentence: String,
    /// What to try, in one sentence.
    pub help: String,
}

impl Remark {
    /// A remark of a level.
    #[must_use]
    pub fn new(level: Level, sentence: impl Into<String>, help: impl Into<String>) -> Self {
        Self { level, sentence: sentence.into(), help: help.into() }
    }

    pub(crate) fn warn(sentence: impl Into<String>, help: impl Into<String>) -> Self {
        Self::new(Level::Warn, sentence, help)
    }

    pub(crate) fn note(sentence: impl Into<String>, help: impl Into<String>) -> Self {
        Self::new(Level::Note, sentence, help)
    }
}

/// A value that a calculation cannot use.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{what} {}: must be {expected}", as_given(*value, *unit))]
pub struct Refused {
    /// What the value is: `germination`.
    pub what: &'static str,
    /// The value, in `unit`.
    pub value: f64,
    /// Unit of the value.
    pub unit: Unit,
    /// What is allowed, in words: `above 0 and at most 100`.
    pub expected: &'static str,
}

impl Refused {
    pub(crate) const fn new(what: &'static str, value: f64, unit: Unit, expected: &'static str) -> Self {
        Self { what, value, unit, expected }
    }

    /// What to try, in one sentence.
    #[must_use]
    pub fn help(&self) -> String {
        format!("Enter the {} as a number {}{}.", self.what, self.expected, in_unit(self.unit))
    }

    /// The same as a remark, for a form that collects remarks.
    #[must_use]
    pub fn remark(&self) -> Remark {
        Remark::new(Level::Refuse, format!("{}.", capitalised(&self.to_string())), self.help())
    }
}

/// Remarks on a value of a field, most serious first; empty when there is nothing to say.
///
/// - `value`: in the field's unit ([`Field::unit`])
/// # Source
/// Handbook of plot arithmetic, section 12 (common practice, no source, where it names none).
/// # Example
/// ```
/// use guardrow_agronomy::limits::{Field, Level, check};
/// assert!(check(Field::Germination, 95.0).is_empty());
/// assert_eq!(check(Field::Germination, 0.95)[0].level, Level::Warn);
/// assert_eq!(check(Field::Moisture, 100.0)[0].level, Level::Refuse);
/// ```
#[must_use]
pub fn check(field: Field, value: f64) -> Vec<Remark> {
    match accept(field, value) {
        Err(refused) => vec![refused.remark()],
        Ok(_) => field.doubts(value),
    }
}

/// Remarks on a value of a field, with the crop's own ranges added.
#[must_use]
pub fn check_for_crop(field: Field, value: f64, crop: &Crop) -> Vec<Remark> {
    let mut remarks = check(field, value);
    if remarks.iter().all(|remark| remark.level != Level::Refuse) {
        remarks.extend(field.crop_doubts(value, crop));
    }
    remarks
}

/// Remarks on a quantity that a person gave in a unit of their own.
///
/// # Errors
/// [`UnitError`] when the unit does not fit the field or a bushel weight is missing.
pub fn check_quantity(field: Field, quantity: Quantity) -> Result<Vec<Remark>, UnitError> {
    Ok(check(field, quantity.to(field.unit())?))
}

/// The value, if the table does not refuse it.
///
/// # Errors
/// [`Refused`] with the field's words and range.
pub fn accept(field: Field, value: f64) -> Result<f64, Refused> {
    let row = field.row();
    let whole = !row.whole || value.fract() == 0.0;
    if value.is_finite() && (row.legal)(value) && whole {
        Ok(value)
    } else {
        Err(Refused::new(row.words, value, row.unit, row.expected))
    }
}

/// A value as a person would write it: at most six decimals, with its unit.
pub(crate) fn as_given(value: f64, unit: Unit) -> String {
    let number =
        if value.is_finite() { format!("{}", half_away(value, 6) + 0.0) } else { "is not a number".to_owned() };
    match unit {
        _ if !value.is_finite() => number,
        Unit::Count | Unit::Index | Unit::Score => format!("is {number}"),
        unit => format!("is {number} {unit}"),
    }
}

fn in_unit(unit: Unit) -> String {
    match unit {
        Unit::Count | Unit::Index | Unit::Score => String::new(),
        unit => format!(", in {unit}"),
    }
}

pub(crate) fn capitalised(text: &str) -> String {
    let mut rest = text.chars();
    rest.next().map_or_else(String::new, |first| first.to_uppercase().chain(rest).collect())
}
