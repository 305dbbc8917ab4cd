//! Numbers as people write them.

use serde::{Deserialize, Serialize};

use super::NumberError;
use super::error::clipped;

/// The mark between whole and decimal digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DecimalMark {
    /// `3.5`
    #[default]
    Point,
    /// `3,5`
    Comma,
}

/// Reads a whole text as one finite number.
///
/// Marks for thousands are refused rather than guessed, because `1,234` and `1.234` each have two meanings.
/// # Errors
/// [`NumberError`] with the text.
pub fn parse_number(text: &str, mark: DecimalMark) -> Result<f64, NumberError> {
    let text = text.trim();
    let (number, rest) = leading_number(text, mark)?;
    if rest.is_empty() { Ok(number) } else { Err(NumberError::NotANumber { text: clipped(text) }) }
}

/// Reads the number at the start of a text and returns it with what follows, trimmed.
pub(super) fn leading_number(text: &str, mark: DecimalMark) -> Result<(f64, &str), NumberError> {
    let length = number_length(text, mark);
    let (digits, rest) = text.split_at(length);
    refuse_other_mark(text, rest, mark)?;
    let plain = digits.replace('−', "-").replace(',', ".");
    let number: f64 = plain.parse().map_err(|_| NumberError::NotANumber { text: clipped(text) })?;
    if number.is_finite() { Ok((number, rest.trim())) } else { Err(NumberError::TooLarge { text: clipped(text) }) }
}

/// A mark followed by a digit right after the number is a thousands mark or the other decimal mark.
fn refuse_other_mark(text: &str, rest: &str, mark: DecimalMark) -> Result<(), NumberError> {
    let text = || clipped(text);
    let mut next = rest.chars();
    let follows = (next.next(), next.next().is_some_and(|c| c.is_ascii_digit()));
    match (follows, mark) {
        ((Some(','), true), DecimalMark::Point) => Err(NumberError::Comma { text: text() }),
        ((Some('.'), true), DecimalMark::Comma) => Err(NumberError::Point { text: text() }),
        ((Some('.' | ','), _), _) => Err(NumberError::NotANumber { text: text() }),
        _ => Ok(()),
    }
}

/// Length in bytes of `[sign] digits [mark digits] [e [sign] digits]` at the start.
fn number_length(text: &str, mark: DecimalMark) -> usize {
    let mark = if mark == DecimalMark::Point { '.' } else { ',' };
    let mut length = sign_length(text);
    let whole = digit_count(&text[length..]);
    length += whole;
    let mut decimals = 0;
    if text[length..].starts_with(mark) {
        decimals = digit_count(&text[length + 1..]);
        // "3." at the end of a sentence is no decimal mark.
        length += if decimals > 0 { 1 + decimals } else { 0 };
    }
    if whole + decimals == 0 { 0 } else { length + exponent_length(&text[length..]) }
}

fn exponent_length(text: &str) -> usize {
    if !text.starts_with(['e', 'E']) {
        return 0;
    }
    let sign = sign_length(&text[1..]);
    match digit_count(&text[1 + sign..]) {
        0 => 0,
        digits => 1 + sign + digits,
    }
}

fn sign_length(text: &str) -> usize {
    text.chars().next().filter(|c| matches!(c, '+' | '-' | '−')).map_or(0, char::len_utf8)
}

fn digit_count(text: &str) -> usize {
    text.bytes().take_while(u8::is_ascii_digit).count()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_with_either_mark() {
        for (text, mark, expected) in [
            ("3.5", DecimalMark::Point, 3.5),
            (" 3,5 ", DecimalMark::Comma, 3.5),
            ("-.5", DecimalMark::Point, -0.5),
            ("−4", DecimalMark::Point, -4.0),
            ("+1.2e-3", DecimalMark::Point, 0.0012),
            ("2E3", DecimalMark::Comma, 2000.0),
        ] {
            assert_eq!(parse_number(text, mark), Ok(expected), "{text}");
        }
    }

    #[test]
    fn thousands_marks_and_words_are_refused() {
        for (text, mark) in [
            ("1,234", DecimalMark::Point),
            ("1,234.5", DecimalMark::Point),
            ("1.234,5", DecimalMark::Comma),
            ("1.2.3", DecimalMark::Point),
            ("", DecimalMark::Point),
            (".", DecimalMark::Point),
            ("NaN", DecimalMark::Point),
            ("inf", DecimalMark::Point),
            ("1e999", DecimalMark::Point),
            ("12 plants", DecimalMark::Point),
            ("é5", DecimalMark::Point),
        ] {
            assert!(parse_number(text, mark).is_err(), "{text}");
        }
    }
}
