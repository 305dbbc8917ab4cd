//! Rounding for the eye. Nothing here may feed another calculation: values keep full precision until they are shown.

use crate::unit::Unit;

/// Rounds half away from zero on the decimal text of the value, as a person does who rounds what stands on paper.
///
/// - `decimals`: digits kept after the decimal mark; negative rounds to tens (-1), hundreds (-2) and so on
///
/// `half_away(2.675, 2)` is 2.68, although the nearest double of 2.675 lies below it. A value that is not finite, or
/// needs more than 300 decimals, comes back as it is.
/// # Source
/// Common practice, no source (handbook of plot arithmetic, 12).
#[must_use]
pub fn half_away(value: f64, decimals: i32) -> f64 {
    if !value.is_finite() || decimals.abs() > 300 {
        return value;
    }
    rounded_text(value, decimals).parse().unwrap_or(value)
}

/// The value rounded half away from zero, written with exactly so many decimals and never as `-0`.
///
/// - `decimals`: as for [`half_away`]; negative shows a whole number rounded to tens, hundreds ...
///
/// A value that is not finite is written `not a number` or `infinite`.
#[must_use]
pub fn shown(value: f64, decimals: i32) -> String {
    if value.is_nan() {
        return "not a number".to_owned();
    }
    if value.is_infinite() {
        return if value > 0.0 { "infinite" } else { "-infinite" }.to_owned();
    }
    rounded_text(value, decimals.clamp(-300, 300))
}

/// Decimals that a mean with this standard error earns.
///
/// - `standard_error`: of the mean, in the mean's unit, above zero
///
/// The step of rounding is the largest power of ten that is at most a quarter of the standard error, so that rounding
/// adds next to nothing to the error: 0.039 earns 3 decimals, 0.3 earns 2, 85 earns -1 (tens). Nothing when the
/// standard error is zero, negative or not finite: such a value says nothing about precision.
/// # Source
/// The quarter of a standard deviation as rounding step: Snedecor & Cochran, Statistical Methods (from memory).
#[must_use]
pub fn earned_decimals(standard_error: f64) -> Option<i32> {
    if !(standard_error.is_finite() && standard_error > 0.0) {
        return None;
    }
    // A hair upwards, so that 0.4 / 4 counts as the 0.1 that it is.
    let step = standard_error / 4.0 * (1.0 + 1e-12);
    Some(-(step.log10().floor() as i32))
}

/// Decimals in which the trade shows a value of a unit, where it has a custom.
///
/// bu/ac 1, kg/ha and lb/ac 0, t/ha 2, moisture and other percentages 1, areas in m2 2, lengths to the centimetre, test
/// weight 1. Nothing for units without a custom.
/// # Source
/// Common practice, no source (handbook of plot arithmetic, 1.3, 4.1, 7.2, 7.4, 12).
#[must_use]
pub fn customary_decimals(unit: Unit) -> Option<i32> {
    match unit {
        Unit::KgPerHa | Unit::LbPerAc | Unit::Centimetre | Unit::Gram | Unit::Count => Some(0),
        Unit::BuPerAc | Unit::Percent | Unit::KgPerHectolitre | Unit::LbPerWinchesterBushel | Unit::PlantsPerM2 => {
            Some(1)
        }
        Unit::TonnePerHa | Unit::SquareMetre | Unit::Metre => Some(2),
        _ => None,
    }
}

/// Rounds up to a whole multiple of a step, for what is ordered or counted out.
///
/// - `step`: above zero, in the unit of `value`
///
/// A value that exceeds a multiple only by the noise of double arithmetic (a relative 1e-9) is not pushed to the next
/// one.
#[must_use]
pub fn up_to_step(value: f64, step: f64) -> f64 {
    let steps = value / step;
    let near = steps.round();
    let whole = if (steps - near).abs() <= 1e-9 * near.abs().max(1.0) { near } else { steps.ceil() };
    let up = whole * step;
    // Multiplying by 0.1 leaves noise; dividing by its inverse does not.
    let inverse = 1.0 / step;
    if (inverse - inverse.round()).abs() < 1e-9 { whole / inverse.round() } else { up }
}

/// Decimal text of a finite value rounded half away from zero.
fn rounded_text(value: f64, decimals: i32) -> String {
    let text = format!("{}", value.abs());
    let (whole, fraction) = text.split_once('.').unwrap_or((&text, ""));
    let digits: Vec<u8> = whole.bytes().chain(fraction.bytes()).map(|byte| byte - b'0').collect();
    let point = whole.len() as i32;
    let kept = point + decimals;
    let mut rounded = keep_digits(&digits, kept);
    // Back from a whole number of steps to the value: one more digit may stand before the point after a carry.
    rounded.resize(rounded.len() + usize::try_from(-decimals).unwrap_or(0), 0);
    let text = with_point(&rounded, usize::try_from(decimals).unwrap_or(0));
    let is_zero = rounded.iter().all(|&digit| digit == 0);
    if value < 0.0 && !is_zero { format!("-{text}") } else { text }
}

/// The first `kept` digits, rounded by the digit that follows; missing digits are zeros.
fn keep_digits(digits: &[u8], kept: i32) -> Vec<u8> {
    let Ok(kept) = usize::try_from(kept) else { return vec![0] };
    let mut result: Vec<u8> = digits.iter().copied().chain(std::iter::repeat(0)).take(kept).collect();
    if digits.get(kept).is_some_and(|&next| next >= 5) {
        add_one(&mut result);
    }
    result
}

fn add_one(digits: &mut Vec<u8>) {
    for digit in digits.iter_mut().rev() {
        if *digit < 9 {
            *digit += 1;
            return;
        }
        *digit = 0;
    }
    digits.insert(0, 1);
}

fn with_point(digits: &[u8], decimals: usize) -> String {
    let mut text: String = digits.iter().map(|&digit| char::from(b'0' + digit)).collect();
    while text.len() <= decimals {
        text.insert(0, '0');
    }
    let (whole, fraction) = text.split_at(text.len() - decimals);
    let whole = match whole.trim_start_matches('0') {
        "" => "0",
        whole => whole,
    };
    if fraction.is_empty() { whole.to_owned() } else { format!("{whole}.{fraction}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_go_away_from_zero_on_the_decimal_text() {
        for (value, decimals, expected) in [
            (2.675, 2, "2.68"),
            (-2.675, 2, "-2.68"),
            (0.5, 0, "1"),
            (-0.5, 0, "-1"),
            (1.005, 2, "1.01"),
            (9.995, 2, "10.00"),
            (99.96, 1, "100.0"),
            (0.0449, 2, "0.04"),
            (4010.4, 0, "4010"),
            (4015.0, -1, "4020"),
            (4.9, -1, "0"),
            (5.0, -1, "10"),
            (949.0, -3, "1000"),
            (499.0, -3, "0"),
            (49.0, -3, "0"),
            (5000.0, -4, "10000"),
            (3.0, 2, "3.00"),
            (1e21, 0, "1000000000000000000000"),
            (1e-7, 3, "0.000"),
        ] {
            assert_eq!(shown(value, decimals), expected, "{value} to {decimals}");
            assert_eq!(half_away(value, decimals), expected.parse::<f64>().unwrap(), "{value} to {decimals}");
        }
    }

    #[test]
    fn nothing_is_shown_as_minus_zero() {
        for (value, decimals) in [(-0.0, 0), (-0.04, 1), (-0.4, 0), (-3.0, -1), (-1e-300, 5)] {
            assert!(!shown(value, decimals).starts_with('-'), "{value} to {decimals}");
        }
        assert_eq!(shown(f64::NAN, 1), "not a number");
        assert_eq!(shown(f64::NEG_INFINITY, 1), "-infinite");
    }

    #[test]
    fn a_mean_earns_decimals_by_its_standard_error() {
        for (standard_error, decimals) in [
            (0.039, 3),
            (0.3, 2),
            (0.4, 1),
            (0.5, 1),
            (4.0, 0),
            (3.9, 1),
            (39.0, 0),
            (40.0, -1),
            (85.0, -1),
            (400.0, -2),
        ] {
            assert_eq!(earned_decimals(standard_error), Some(decimals), "{standard_error}");
        }
        for nothing in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(earned_decimals(nothing), None);
        }
    }

    #[test]
    fn orders_round_up() {
        assert_eq!(up_to_step(582.35, 1.0), 583.0);
        assert_eq!(up_to_step(583.0, 1.0), 583.0);
        assert_eq!(up_to_step(1.0831, 0.1), 1.1);
        assert_eq!(up_to_step(0.1 + 0.2, 0.1), 0.3);
        assert_eq!(up_to_step(52.0, 25.0), 75.0);
    }
}
