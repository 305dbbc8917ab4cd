//! Numbers of twice the usual length: a sum of two doubles, good to about 31 digits.
//!
//! Source: Dekker (1971), Numer. Math. 18:224-242; Knuth, The Art of Computer Programming, volume 2, section 4.2.2 (from memory).

use std::ops::{Add, Div, Mul, Neg, Sub};

/// `high + low`, with `low` below half a unit in the last place of `high`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Doubled {
    high: f64,
    low: f64,
}

impl From<f64> for Doubled {
    fn from(value: f64) -> Self {
        Self { high: value, low: 0.0 }
    }
}

impl Doubled {
    /// Rounded to a double.
    pub fn rounded(self) -> f64 {
        self.high + self.low
    }

    /// The square root of a number that is not negative.
    pub fn sqrt(self) -> Self {
        if self.high <= 0.0 {
            return Self::default();
        }
        // one step of Newton from the double's own root doubles its digits
        let root = self.high.sqrt();
        let left = self - product(root, root);
        quick_sum(root, left.high / (2.0 * root))
    }
}

/// The exact sum of two doubles.
fn sum(a: f64, b: f64) -> Doubled {
    let high = a + b;
    let of_b = high - a;
    Doubled { high, low: (a - (high - of_b)) + (b - of_b) }
}

/// The exact sum when the first is the larger.
fn quick_sum(a: f64, b: f64) -> Doubled {
    let high = a + b;
    Doubled { high, low: b - (high - a) }
}

/// The exact product of two doubles.
fn product(a: f64, b: f64) -> Doubled {
    let high = a * b;
    Doubled { high, low: libm::fma(a, b, -high) }
}

impl Add for Doubled {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        let (high, low) = (sum(self.high, other.high), sum(self.low, other.low));
        let first = quick_sum(high.high, high.low + low.high);
        quick_sum(first.high, first.low + low.low)
    }
}

impl Neg for Doubled {
    type Output = Self;
    fn neg(self) -> Self {
        Self { high: -self.high, low: -self.low }
    }
}

impl Sub for Doubled {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl Mul for Doubled {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        let exact = product(self.high, other.high);
        quick_sum(exact.high, exact.low + (self.high * other.low + self.low * other.high))
    }
}

impl Div for Doubled {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let first = self.high / other.high;
        let left = self - other * first.into();
        let second = left.high / other.high;
        let left = left - other * second.into();
        quick_sum(first, second) + Self::from(left.high / other.high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_double_loses_is_kept() {
        let (large, small) = (Doubled::from(1e16), Doubled::from(0.125));
        assert_eq!((large + small - large).rounded(), 0.125);
        let third = Doubled::from(1.0) / 3.0.into();
        assert!(((third * 3.0.into()) - 1.0.into()).rounded().abs() < 1e-31);
        let root = Doubled::from(2.0).sqrt();
        assert!((root * root - 2.0.into()).rounded().abs() < 1e-30);
    }
}
