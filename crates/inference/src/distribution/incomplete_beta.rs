//! The regularised incomplete beta function.

use super::part::Part;
use super::stirling::{log_beta_front, log_less_argument};
use super::tail_integral::{NOTHING, mass_beyond};

/// With both parameters above this the density is integrated directly; the fraction needs some multiple of the root of the
/// smaller one.
const LARGE: f64 = 400.0;

/// The point at which a beta distribution is asked: `x + y = 1`, and how far it is above the mean.
#[derive(Debug, Clone, Copy)]
pub(crate) struct BetaPoint {
    pub a: f64,
    pub b: f64,
    pub x: f64,
    pub y: f64,
    /// `b x - a y`, computed by who knows `x` best, so that large parameters lose no digits.
    pub excess: f64,
}

impl BetaPoint {
    /// `ln(x^a y^b / B(a, b))`, the density on the scale of `ln(x / y)`.
    pub fn log_front(&self) -> f64 {
        log_beta_front(self.a, self.b, self.x, self.y, self.excess)
    }

    fn turned(&self) -> Self {
        Self { a: self.b, b: self.a, x: self.y, y: self.x, excess: -self.excess }
    }
}

/// The beta distribution at a point.
///
/// # Source
/// Continued fraction of DiDonato & Morris (1992), ACM Trans. Math. Softw. 18:360-373, section 4 (BFRAC; the formula from
/// memory), and for large parameters Gauss's rule on the density; checked against 34-digit values in the tests.
pub(crate) fn incomplete_beta(point: &BetaPoint) -> Part {
    let BetaPoint { a, b, x, y, .. } = *point;
    if [a, b, x, y].iter().any(|it| it.is_nan()) || a <= 0.0 || b <= 0.0 {
        return Part::NOT_A_NUMBER;
    }
    if x <= 0.0 {
        return Part::NOTHING_BELOW;
    }
    if y <= 0.0 {
        return Part::NOTHING_ABOVE;
    }
    let front = point.log_front();
    if front < NOTHING {
        return if point.excess < 0.0 { Part::lower(front, 1.0) } else { Part::upper(front, 1.0) };
    }
    if a.min(b) > LARGE {
        return by_density(point, front);
    }
    // The fraction converges fast on the near side of the mean and a little beyond.
    if x < (a + 1.0) / (a + b + 2.0) {
        Part::lower(front, fraction(point))
    } else {
        Part::upper(front, fraction(&point.turned()))
    }
}

/// Integrates the density away from its peak, starting at the point.
fn by_density(point: &BetaPoint, front: f64) -> Part {
    // the peak of t^(a-1) (1-t)^(b-1): its excess is y - x less than that of the mean
    if point.excess - point.x + point.y < 0.0 {
        return by_density(&point.turned(), front).turned();
    }
    let BetaPoint { a, b, x, y, excess } = *point;
    // over (t - x) / (x y)
    let slope = excess - x + y;
    let curvature = (a - 1.0) * y * y + (b - 1.0) * x * x;
    let log_ratio = |u: f64| (a - 1.0) * log_less_argument(u * y) + (b - 1.0) * log_less_argument(-u * x) - slope * u;
    Part::upper(front, mass_beyond(slope, curvature, 1.0 / x, log_ratio))
}

/// Numerators and denominators of the fraction as in the paper, the last convergent by the modified Lentz method.
fn fraction(point: &BetaPoint) -> f64 {
    let BetaPoint { a, b, x, y, excess } = *point;
    let lambda = -excess;
    let denominator = |n: f64| {
        n + n * (b - n) * x / (a + 2.0 * n - 1.0) + (a + n) / (a + 2.0 * n + 1.0) * (lambda + 1.0 + n * (1.0 + y))
    };
    let away_from_zero = |value: f64| if value.abs() < 1e-300 { 1e-300 } else { value };
    // At n = 0 the middle term vanishes, also where its own denominator does.
    let mut c = 1e300;
    let mut d = 1.0 / away_from_zero(a / (a + 1.0) * (lambda + 1.0));
    let mut result = d;
    for step in 1..20_000 {
        let n = f64::from(step);
        let wide = a + 2.0 * n - 1.0;
        let numerator = (a + n - 1.0) / wide * ((a + b + n - 1.0) / wide) * (n * x) * ((b - n) * x);
        let b_n = denominator(n);
        d = 1.0 / away_from_zero(b_n + numerator * d);
        c = away_from_zero(b_n + numerator / c);
        result *= d * c;
        if (d * c - 1.0).abs() < 3e-16 {
            break;
        }
    }
    result
}
