//! Differences of numbers that people wrote as decimals.
//!
//! A value such as 1000000000000.4 is no binary number: what is stored is off by up to 6e-5, which its difference from
//! 1000000000000.3 then shows. The shortest decimal that reads back as the stored number is what was written (a double keeps
//! any 15 digits), and decimals can be subtracted without error.

/// A decimal number: `digits` times ten to the power `-places`.
#[derive(Debug, Clone, Copy)]
struct Decimal {
    digits: i128,
    places: u32,
}

/// Most digits for which subtraction stays within 128 bits.
const MOST_PLACES: u32 = 18;
const MOST_DIGITS: usize = 17;

impl Decimal {
    /// The shortest decimal that reads back as this number; none when it is far from the sizes that people write.
    fn shortest(value: f64) -> Option<Self> {
        if !(value == 0.0 || (1e-9..1e17).contains(&value.abs())) {
            return None;
        }
        let text = format!("{value}");
        let (whole, part) = text.split_once('.').unwrap_or((&text, ""));
        let places = u32::try_from(part.len()).ok().filter(|places| *places <= MOST_PLACES)?;
        let digits = format!("{whole}{part}");
        (digits.trim_start_matches(['-', '0']).len() <= MOST_DIGITS)
            .then(|| digits.parse().ok())
            .flatten()
            .map(|digits| Self { digits, places })
    }

    fn minus(self, other: Self) -> f64 {
        let places = self.places.max(other.places);
        let scaled = |it: Self| it.digits * 10_i128.pow(places - it.places);
        (scaled(self) - scaled(other)) as f64 / 10_f64.powi(places as i32)
    }
}

/// Every value minus the first.
///
/// Where the values share leading digits they are subtracted as decimals; where they do not, nothing is lost by subtracting
/// them as they are.
pub(crate) fn from_first(values: &[f64]) -> Vec<f64> {
    let Some(&origin) = values.first() else { return Vec::new() };
    let plain: Vec<f64> = values.iter().map(|value| value - origin).collect();
    let largest = plain.iter().fold(0.0, |largest: f64, it| largest.max(it.abs()));
    if largest > 1e-3 * origin.abs() {
        return plain;
    }
    let Some(first) = Decimal::shortest(origin) else { return plain };
    let exact: Option<Vec<f64>> = values.iter().map(|&value| Some(Decimal::shortest(value)?.minus(first))).collect();
    exact.unwrap_or(plain)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_written_is_subtracted() {
        let values = [1_000_000_000_000.4, 1_000_000_000_000.3, 1_000_000_000_000.6];
        assert_eq!(from_first(&values), [0.0, -0.1, 0.2]);
        assert_ne!(values[1] - values[0], -0.1);
    }

    #[test]
    fn values_that_share_no_digits_are_subtracted_as_they_are() {
        assert_eq!(from_first(&[0.1, 0.3]), [0.0, 0.3 - 0.1]);
        assert_eq!(from_first(&[]), [0.0; 0]);
    }
}
