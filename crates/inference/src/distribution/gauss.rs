//! Gauss-Legendre rules.

use std::sync::OnceLock;

/// Points on 0 to 1 with their weights.
#[derive(Debug, Clone)]
pub(crate) struct GaussRule {
    pub points: Vec<f64>,
    pub weights: Vec<f64>,
}

impl GaussRule {
    /// The rule of `count` points, exact for polynomials of degree `2 count - 1`.
    ///
    /// # Source
    /// Roots of the Legendre polynomial by Newton's method from their asymptotic places (Davis & Rabinowitz 1984, Methods of
    /// Numerical Integration; from memory, checked on monomials in the tests).
    pub fn of(count: usize) -> Self {
        let n = count as f64;
        let (mut points, mut weights) = (vec![0.0; count], vec![0.0; count]);
        for index in 0..count.div_ceil(2) {
            let mut z = (std::f64::consts::PI * (index as f64 + 0.75) / (n + 0.5)).cos();
            let mut slope = 1.0;
            for _ in 0..20 {
                let (value, derivative) = legendre(count, z);
                slope = derivative;
                let step = value / derivative;
                z -= step;
                if step.abs() < 1e-16 {
                    break;
                }
            }
            let weight = 1.0 / ((1.0 - z * z) * slope * slope);
            (points[index], points[count - 1 - index]) = (0.5 * (1.0 - z), 0.5 * (1.0 + z));
            (weights[index], weights[count - 1 - index]) = (weight, weight);
        }
        Self { points, weights }
    }

    /// The rule of 32 points, kept.
    pub fn of_32() -> &'static Self {
        static RULE: OnceLock<GaussRule> = OnceLock::new();
        RULE.get_or_init(|| Self::of(32))
    }

    /// The integral of `function` from `low` to `high`.
    pub fn integral(&self, low: f64, high: f64, function: impl Fn(f64) -> f64) -> f64 {
        let width = high - low;
        let sum: f64 = self.points.iter().zip(&self.weights).map(|(x, w)| w * function(low + width * x)).sum();
        width * sum
    }
}

/// The Legendre polynomial of this degree and its derivative.
fn legendre(degree: usize, z: f64) -> (f64, f64) {
    let (mut before, mut value) = (0.0, 1.0);
    for k in 0..degree {
        let k = k as f64;
        (before, value) = (value, ((2.0 * k + 1.0) * z * value - k * before) / (k + 1.0));
    }
    (value, degree as f64 * (z * value - before) / (z * z - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn monomials_are_integrated_exactly() {
        for count in [1, 2, 7, 16, 32] {
            let rule = GaussRule::of(count);
            for degree in 0..2 * count {
                let found = rule.integral(0.0, 1.0, |x| x.powi(degree as i32));
                assert!((found * (degree + 1) as f64 - 1.0).abs() < 1e-13, "{count} points, degree {degree}: {found}");
            }
        }
    }
}
