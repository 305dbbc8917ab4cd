//! Numbers as sentences show them: as many digits as the standard error earns, and never so few that a rounded
//! number contradicts the verdict that was reached with the exact one.

use guardrow_agronomy::rounding::{earned_decimals, half_away, shown};

/// How the numbers of one finding are written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Figures {
    decimals: i32,
}

/// Decimals where no standard error says what the numbers are worth.
const WITHOUT_STANDARD_ERROR: i32 = 2;

/// So many decimals are added at most to keep a number on its side of a limit.
const MOST_ADDED: i32 = 4;

impl Figures {
    /// Digits by the standard error, in the unit of the numbers.
    ///
    /// - `exact`: numbers that will be shown; decimals are added until each of them stands on the same side of every
    ///   one of `limits` after rounding as before
    pub fn new(se: f64, exact: &[f64], limits: &[f64]) -> Figures {
        let earned = earned_decimals(se).unwrap_or(WITHOUT_STANDARD_ERROR);
        let honest =
            |decimals: &i32| exact.iter().all(|&value| limits.iter().all(|&limit| keeps_side(value, limit, *decimals)));
        Figures { decimals: (earned..=earned + MOST_ADDED).find(honest).unwrap_or(earned + MOST_ADDED) }
    }

    /// The number without its sign.
    pub fn size(self, value: f64) -> String {
        shown(value.abs(), self.decimals)
    }
}

/// Limits are shown with their own digits, so only the value is rounded.
fn keeps_side(value: f64, limit: f64, decimals: i32) -> bool {
    let rounded = half_away(value, decimals);
    if value < limit {
        rounded < limit
    } else if value > limit {
        rounded > limit
    } else {
        rounded == limit
    }
}

/// A number that a person set (a margin, a price): up to four significant digits, without trailing zeros.
pub(crate) fn plain(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return shown(value, 0);
    }
    let decimals = (3 - value.abs().log10().floor() as i32).clamp(0, 12);
    let text = shown(value, decimals);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_standard_error_earns_the_digits() {
        for (se, value, text) in
            [(35.2, 241.27, "241"), (350.0, 241.27, "240"), (3.52, 24.127, "24.1"), (0.352, -2.4127, "2.41")]
        {
            assert_eq!(Figures::new(se, &[value], &[]).size(value), text, "standard error {se}");
        }
    }

    #[test]
    fn a_rounded_bound_stays_on_its_side_of_zero_and_of_the_margin() {
        for (value, text) in [(249.6, "249.6"), (250.4, "250.4"), (0.3, "0.3"), (-0.04, "0.04"), (180.3, "180")] {
            assert_eq!(Figures::new(30.0, &[value], &[0.0, 250.0]).size(value), text);
        }
        assert_eq!(Figures::new(30.0, &[250.0], &[250.0]).size(250.0), "250");
    }

    #[test]
    fn numbers_that_people_set_keep_four_digits() {
        for (value, text) in [
            (250.0, "250"),
            (0.18, "0.18"),
            (214.285_714_285_7, "214.3"),
            (12345.6, "12346"),
            (0.000_123_456, "0.0001235"),
        ] {
            assert_eq!(plain(value), text);
        }
    }
}
