//! Gauss-Legendre quadrature, and averages over the root of a scaled chi-square.

use std::sync::OnceLock;

/// Points and weights on -1 to 1.
pub(crate) struct Rule {
    pub points: Vec<f64>,
    pub weights: Vec<f64>,
}

impl Rule {
    /// The rule of `count` points, by Newton's method on the Legendre polynomial.
    ///
    /// # Source
    /// Abramowitz & Stegun 25.4.29; starting values from memory. Exact for polynomials up to degree `2 count - 1`,
    /// which the tests check.
    pub fn gauss_legendre(count: usize) -> Self {
        let points: Vec<f64> = (0..count).map(|index| legendre_root(index, count)).collect();
        let weight = |&x: &f64| {
            let (_, slope) = legendre(x, count);
            2.0 / ((1.0 - x * x) * slope * slope)
        };
        let weights = points.iter().map(weight).collect();
        Self { points, weights }
    }

    /// The integral of `function` from `from` to `to`.
    pub fn integrate(&self, from: f64, to: f64, function: impl Fn(f64) -> f64) -> f64 {
        let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
        half * self
            .points
            .iter()
            .zip(&self.weights)
            .map(|(x, weight)| weight * function(middle + half * x))
            .sum::<f64>()
    }
}

/// The rule of 16 points, made once.
pub(crate) fn sixteen_points() -> &'static Rule {
    static RULE: OnceLock<Rule> = OnceLock::new();
    RULE.get_or_init(|| Rule::gauss_legendre(16))
}

fn legendre_root(index: usize, count: usize) -> f64 {
    let mut x = (std::f64::consts::PI * (index as f64 + 0.75) / (count as f64 + 0.5)).cos();
    for _ in 0..100 {
        let (value, slope) = legendre(x, count);
        let step = value / slope;
        x -= step;
        if step.abs() < 1e-16 {
            break;
        }
    }
    x
}

/// Value and slope of the Legendre polynomial of the given degree.
fn legendre(x: f64, degree: usize) -> (f64, f64) {
    let (mut before, mut value) = (1.0, x);
    for k in 2..=degree {
        let k = k as f64;
        (before, value) = (value, ((2.0 * k - 1.0) * x * value - (k - 1.0) * before) / k);
    }
    (value, degree as f64 * (x * value - before) / (x * x - 1.0))
}

/// The mean of `function(s)` where `df * s^2` is a chi-square with `df` degrees of freedom.
///
/// `s` is the estimated standard deviation over the true one: with it a probability for known variance becomes one for
/// estimated variance. The range that is left out holds less than 1e-16; panels of 16 points are a third of the
/// standard deviation of `ln s` or finer, and integration runs over `ln s`, in which the density is nearly normal.
pub(crate) fn over_estimated_deviation(df: f64, function: impl Fn(f64) -> f64) -> f64 {
    if df.is_infinite() || df > 1e9 {
        return function(1.0);
    }
    // d/d(ln s): s^df exp(-df s^2 / 2) times a constant.
    let half = 0.5 * df;
    let constant = half * half.ln() - libm::lgamma(half) + std::f64::consts::LN_2;
    let density = |log_s: f64| (constant + df * log_s - half * (2.0 * log_s).exp()).exp();
    let spread = 1.0 / (2.0 * df).sqrt();
    let low = if df < 10.0 { -40.0 / df } else { -9.5 * spread - 20.0 / df };
    let high = upper_end(df, 9.0 * spread);
    let panels = (((high - low) / (1.5 * spread)).ceil() as usize).clamp(4, 64);
    let width = (high - low) / panels as f64;
    let panel = |index: usize| {
        let from = low + width * index as f64;
        sixteen_points().integrate(from, from + width, |log_s| density(log_s) * function(log_s.exp()))
    };
    (0..panels).map(panel).sum()
}

/// Where the density of `ln s` has fallen by 38 natural logarithms: the root of `exp(2x) = 1 + 2x + 76/df`.
fn upper_end(df: f64, start: f64) -> f64 {
    (0..20).fold(start, |x, _| 0.5 * (1.0 + 2.0 * x + 76.0 / df).ln())
}
