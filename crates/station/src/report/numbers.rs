//! Numbers as a report shows them: rounded once, here, to what their error earns.

use guardrow_agronomy::rounding::{customary_decimals, earned_decimals, shown};
use guardrow_agronomy::unit::Unit;

/// Decimals for values of one measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Decimals(i32);

impl Decimals {
    /// What a standard error earns; the unit's custom where there is none.
    pub(crate) fn earned(standard_error: Option<f64>, unit: Unit) -> Decimals {
        let earned = standard_error.and_then(earned_decimals);
        Decimals(earned.or_else(|| customary_decimals(unit)).unwrap_or(2).clamp(-3, 6))
    }

    /// For amounts on an axis: what a tenth of the tested range would earn as an error, so that all that is told of one
    /// factor has the same decimals. Common practice, no source.
    pub(crate) fn of_amounts(width: f64) -> Decimals {
        Decimals(earned_decimals(width / 10.0).unwrap_or(2).clamp(-3, 6))
    }

    /// A value.
    pub(crate) fn value(self, value: f64) -> String {
        shown(value, self.0)
    }

    /// A difference, with its sign.
    pub(crate) fn difference(self, value: f64) -> String {
        let text = self.value(value);
        if text.starts_with('-') || text.chars().all(|sign| matches!(sign, '0' | '.')) {
            text
        } else {
            format!("+{text}")
        }
    }

    /// `3.12 to 3.74`.
    pub(crate) fn interval(self, lower: f64, upper: f64) -> String {
        format!("{} to {}", self.value(lower), self.value(upper))
    }

    /// One more decimal, for standard errors.
    pub(crate) fn finer(self) -> Decimals {
        Decimals(self.0 + 1)
    }
}

/// A p value: three decimals, never zero.
pub(crate) fn p_value(p: f64) -> String {
    if p < 0.001 { "< 0.001".to_owned() } else { shown(p, 3) }
}

/// Degrees of freedom: whole where they are whole.
pub(crate) fn df(df: f64) -> String {
    if (df - df.round()).abs() < 1e-6 { shown(df, 0) } else { shown(df, 1) }
}

/// An F ratio.
pub(crate) fn f_ratio(f: f64) -> String {
    shown(f, 2)
}

/// A number to four digits, such as a mean square or a slope.
pub(crate) fn four_digits(ms: f64) -> String {
    if ms == 0.0 || !ms.is_finite() {
        return shown(ms, 0);
    }
    let digits = 3 - ms.abs().log10().floor() as i32;
    shown(ms, digits.clamp(-12, 12))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_shown_as_their_error_earns() {
        let decimals = Decimals::earned(Some(0.39), Unit::KgPerHa);
        assert_eq!(decimals.value(3.41592), "3.42");
        assert_eq!(decimals.difference(0.5), "+0.50");
        assert_eq!(decimals.difference(-0.5), "-0.50");
        assert_eq!(decimals.difference(0.0), "0.00");
    }

    #[test]
    fn p_is_never_shown_as_zero() {
        assert_eq!(p_value(1e-12), "< 0.001");
        assert_eq!(p_value(0.04951), "0.050");
    }

    #[test]
    fn four_digits_are_kept() {
        assert_eq!(four_digits(177.0833), "177.1");
        assert_eq!(four_digits(0.0030556), "0.003056");
        assert_eq!(four_digits(1234567.0), "1235000");
    }
}
