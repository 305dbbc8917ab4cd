//! Reading one value of a measure from text: a number, a number with its unit, or a kind of empty.

use guardrow_agronomy::crop::Crop;
use guardrow_agronomy::unit::{DecimalMark, Dimension, NumberError, Quantity, Unit, parse_number};

use crate::{Measure, Status, Weight};

/// Which sign stands before the decimals in a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum DecimalSign {
    /// A point; a comma is refused.
    Point,
    /// A comma; a point is refused.
    Comma,
    /// Either, refused where it could also separate thousands.
    Either,
}

/// One value as it was understood.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Reading {
    /// A value or a kind of empty.
    pub status: Status,
    /// The value in the measure's unit.
    pub value: Option<f64>,
    /// What a person should look at before it is accepted.
    pub remark: Option<Trouble>,
}

/// What is wrong with a value, or worth a look.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Trouble {
    /// How grave it is.
    pub weight: Weight,
    /// What is wrong.
    pub what: String,
    /// What to try.
    pub try_this: String,
}

impl Trouble {
    fn refuse(what: String, try_this: impl Into<String>) -> Trouble {
        Trouble { weight: Weight::Refuse, what, try_this: try_this.into() }
    }

    fn warn(what: String, try_this: impl Into<String>) -> Trouble {
        Trouble { weight: Weight::Warn, what, try_this: try_this.into() }
    }
}

/// The words for the kinds of empty, first the one that Guardrow writes.
const KINDS_OF_EMPTY: [(Status, &[&str]); 4] = [
    (Status::NotSeen, &["not seen"]),
    (Status::Lost, &["lost"]),
    (Status::NotApplicable, &["not applicable", "n/a"]),
    (Status::NotYet, &["not yet"]),
];

impl Status {
    /// The word for people.
    pub fn word(self) -> &'static str {
        match self {
            Status::Value => "value",
            Status::NotSeen => "not seen",
            Status::Lost => "lost",
            Status::NotApplicable => "not applicable",
            Status::NotYet => "not yet",
        }
    }

    /// The word that the journal stores.
    pub(crate) fn stored(self) -> &'static str {
        match self {
            Status::Value => "value",
            Status::NotSeen => "not_seen",
            Status::Lost => "lost",
            Status::NotApplicable => "not_applicable",
            Status::NotYet => "not_yet",
        }
    }

    /// Reads what the journal stored.
    pub(crate) fn from_stored(word: &str) -> Option<Status> {
        [Status::Value, Status::NotSeen, Status::Lost, Status::NotApplicable, Status::NotYet]
            .into_iter()
            .find(|status| status.stored() == word)
    }
}

/// The kind of empty that a text names, if it names one.
pub(crate) fn kind_of_empty(text: &str) -> Option<Status> {
    let plain = text.trim().to_lowercase().replace('_', " ");
    KINDS_OF_EMPTY.iter().find(|(_, words)| words.contains(&plain.as_str())).map(|(status, _)| *status)
}

/// Reads one value of `measure` from `text`.
///
/// A bare number is in the measure's unit, which stands above every column; a number with another unit of the same
/// dimension is converted (`crop` is needed for bushels).
///
/// # Errors
/// A [`Trouble`] of weight `Refuse`: no number, an ambiguous comma, another dimension, or outside the measure's range.
pub(crate) fn read_value(
    text: &str,
    measure: &Measure,
    sign: DecimalSign,
    crop: Option<&Crop>,
) -> Result<Reading, Trouble> {
    if let Some(status) = kind_of_empty(text) {
        return Ok(Reading { status, value: None, remark: None });
    }
    let (number, unit) = split_unit(text.trim());
    let value = read_number(number, sign, text.trim())?;
    let value = match unit {
        "" => value,
        unit => convert(value, unit, measure, crop).map_err(|trouble| Trouble {
            what: format!("“{}” cannot be read as {}: {}", text.trim(), measure.name, trouble.what),
            ..trouble
        })?,
    };
    check_value(value, measure)
}

/// Checks a number that is already in the measure's unit.
///
/// # Errors
/// A [`Trouble`] of weight `Refuse` when the value cannot be right.
pub(crate) fn check_value(value: f64, measure: &Measure) -> Result<Reading, Trouble> {
    if !value.is_finite() {
        return Err(Trouble::refuse(
            format!("{} is not a number that can be measured", value),
            "write a number or a kind of empty",
        ));
    }
    let unit = measure.unit.symbol();
    if let Some((low, high)) = measure.range
        && !(low..=high).contains(&value)
    {
        return Err(Trouble::refuse(
            format!("{value} {unit} is outside the range of {}, {low} to {high} {unit}", measure.name),
            "look at the plot again, or mend the range in the plan",
        ));
    }
    impossible(value, measure)?;
    Ok(Reading { status: Status::Value, value: Some(value), remark: doubtful(value, measure) })
}

/// What can never be right for a unit, whatever the plan's range says.
fn impossible(value: f64, measure: &Measure) -> Result<(), Trouble> {
    let name = &measure.name;
    match measure.unit.dimension() {
        Dimension::Fraction if measure.unit == Unit::Percent && !(0.0..=100.0).contains(&value) => Err(
            Trouble::refuse(format!("{name} of {value} % is outside 0 to 100 %"), "write a percentage from 0 to 100"),
        ),
        Dimension::Mass
        | Dimension::Length
        | Dimension::Area
        | Dimension::MassPerArea
        | Dimension::CountPerArea
        | Dimension::Fraction
            if value < 0.0 =>
        {
            Err(Trouble::refuse(
                format!("{name} of {value} {} is negative", measure.unit.symbol()),
                "write zero for nothing, or the kind of empty: not seen, lost, not applicable, not yet",
            ))
        }
        Dimension::Count if value < 0.0 || value.fract() != 0.0 => Err(Trouble::refuse(
            format!("{name} of {value} is not a whole count"),
            "write a whole number from 0, or measure in another unit",
        )),
        _ => Ok(()),
    }
}

/// What is legal and yet probably wrong.
fn doubtful(value: f64, measure: &Measure) -> Option<Trouble> {
    let fraction = measure.unit == Unit::Percent && value > 0.0 && value <= 1.0;
    fraction.then(|| {
        Trouble::warn(
            format!("{} of {value} is read as {value} %, not as a fraction of one", measure.name),
            format!("write {0} if {0} % is meant", as_percent(value)),
        )
    })
}

/// A fraction as a percentage, without the digits that come of counting in twos.
fn as_percent(fraction: f64) -> f64 {
    (fraction * 1e12).round() / 1e10
}

fn convert(value: f64, unit: &str, measure: &Measure, crop: Option<&Crop>) -> Result<f64, Trouble> {
    let given = Unit::parse(unit).map_err(|error| Trouble::refuse(error.to_string(), error.help()))?;
    let quantity = Quantity { value, unit: given };
    let converted = match crop {
        Some(crop) => quantity.to_for_crop(measure.unit, crop),
        None => quantity.to(measure.unit),
    };
    converted.map_err(|error| Trouble::refuse(error.to_string(), error.help()))
}

/// Splits `12,5 kg/ha` into the number and the unit, which may be empty.
fn split_unit(text: &str) -> (&str, &str) {
    let end = text
        .char_indices()
        .find(|&(index, sign)| {
            let exponent = matches!(sign, 'e' | 'E')
                && text[index + 1..].trim_start_matches(['+', '-']).starts_with(|c: char| c.is_ascii_digit());
            !(sign.is_ascii_digit() || matches!(sign, '+' | '-' | '.' | ',' | '\u{2212}') || exponent)
        })
        .map_or(text.len(), |(index, _)| index);
    (text[..end].trim(), text[end..].trim())
}

/// Reads a number with the decimal sign of its file.
///
/// - `written`: all that was written, unit included, for the message
fn read_number(text: &str, sign: DecimalSign, written: &str) -> Result<f64, Trouble> {
    let mark = match sign {
        DecimalSign::Point => DecimalMark::Point,
        DecimalSign::Comma => DecimalMark::Comma,
        DecimalSign::Either if text.contains('.') && text.contains(',') => return Err(not_a_number(written)),
        DecimalSign::Either if could_be_thousands(text) => {
            return Err(Trouble::refuse(
                format!("“{written}” can be read in two ways, with decimals or with a separator of thousands"),
                format!("write {} or {}", text.replace(',', ""), text.replace(',', ".")),
            ));
        }
        DecimalSign::Either if text.contains(',') => DecimalMark::Comma,
        DecimalSign::Either => DecimalMark::Point,
    };
    parse_number(text, mark).map_err(|error| match error {
        NumberError::TooLarge { .. } => Trouble::refuse(error.to_string(), error.help()),
        _ => not_a_number(written),
    })
}

/// `1,250` and `12,500` could be either; `0,125` and `12,5` could not.
fn could_be_thousands(text: &str) -> bool {
    let digits = text.trim_start_matches(['+', '-', '\u{2212}']);
    match digits.split_once(',') {
        Some((whole, rest)) => {
            let three = rest.len() == 3 && rest.bytes().all(|digit| digit.is_ascii_digit());
            three && !whole.is_empty() && !whole.starts_with('0') && whole.len() <= 3
        }
        None => false,
    }
}

fn not_a_number(text: &str) -> Trouble {
    Trouble::refuse(
        format!("“{text}” is not a number"),
        "write a number such as 12.5, or a kind of empty: not seen, lost, not applicable, not yet",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ValueKind;

    fn measure(unit: &str, range: Option<(f64, f64)>) -> Measure {
        Measure {
            key: "m".into(),
            name: "Mass".into(),
            unit: Unit::parse(unit).expect("a unit of the table"),
            event: "Harvest".into(),
            method: String::new(),
            range,
            values: ValueKind::Measured,
            transformed: None,
            anchors: None,
        }
    }

    fn value(text: &str, unit: &str) -> Option<f64> {
        read_value(text, &measure(unit, None), DecimalSign::Either, None).expect(text).value
    }

    fn trouble(text: &str, unit: &str, range: Option<(f64, f64)>) -> String {
        read_value(text, &measure(unit, range), DecimalSign::Either, None).expect_err(text).what
    }

    #[test]
    fn numbers_with_point_comma_and_unit_are_read() {
        assert_eq!(value("12.5", "kg"), Some(12.5));
        assert_eq!(value(" 12,5 ", "kg"), Some(12.5));
        assert_eq!(value("0", "kg"), Some(0.0));
        assert_eq!(value("0,125", "kg"), Some(0.125));
        assert_eq!(value("120", "mg/kg"), Some(120.0));
        assert_eq!(value("3500 g", "kg"), Some(3.5));
        assert_eq!(value("1e3 g", "kg"), Some(1.0));
        assert_eq!(value("\u{2212}2", "degC"), Some(-2.0));
    }

    #[test]
    fn kinds_of_empty_are_kept_apart_from_zero() {
        for (text, status) in [
            ("not seen", Status::NotSeen),
            ("Lost", Status::Lost),
            ("n/a", Status::NotApplicable),
            ("not_yet", Status::NotYet),
        ] {
            let reading = read_value(text, &measure("kg", None), DecimalSign::Either, None).expect(text);
            assert_eq!((reading.status, reading.value), (status, None));
        }
    }

    #[test]
    fn what_cannot_be_right_is_refused_with_the_reason() {
        assert!(trouble("1,250", "kg", None).contains("two ways"));
        assert!(trouble("-1", "kg", None).contains("negative"));
        assert!(trouble("101", "%", None).contains("outside 0 to 100"));
        assert!(trouble("3.5", "count", None).contains("whole count"));
        assert!(trouble("12 m", "kg", None).contains("kg"));
        assert!(trouble("12 kgs/haa", "kg", None).contains("kgs/haa"));
        assert!(trouble("twelve", "kg", None).contains("not a number"));
        assert!(trouble("NaN", "kg", None).contains("not a number"));
        assert!(trouble("1e999", "kg", None).contains("too large"));
        assert!(trouble("1,2,3", "kg", None).contains("not a number"));
        assert!(trouble("9", "kg", Some((0.0, 5.0))).contains("outside the range"));
        assert!(trouble("1.234,5", "kg", None).contains("not a number"));
    }

    #[test]
    fn a_percentage_that_looks_like_a_fraction_is_remarked() {
        let reading = read_value("0.95", &measure("%", None), DecimalSign::Either, None).expect("legal");
        assert_eq!(reading.value, Some(0.95));
        assert!(reading.remark.expect("a remark").what.contains("not as a fraction"));
    }
}
