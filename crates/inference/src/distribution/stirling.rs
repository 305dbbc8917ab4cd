//! The pieces that densities are put together from, so that no digits cancel.
//!
//! A density such as `x^a e^-x / Gamma(a)` is a quotient of huge numbers. Written as a deviation of `x` from `a` and what
//! Stirling's formula leaves of the gamma function, every piece is as small as the result's logarithm.
//!
//! Source: Loader (2000), Fast and accurate computation of binomial probabilities (the idea; from memory).

use std::f64::consts::PI;

/// `ln(2 pi) / 2`
pub(crate) const HALF_LOG_TWO_PI: f64 = 0.918_938_533_204_672_8;

/// `ln(1 + u) - u`, for `u` above -1.
pub(crate) fn log_less_argument(u: f64) -> f64 {
    if !(-0.45..=0.8).contains(&u) {
        return u.ln_1p() - u;
    }
    // ln(1 + u) = 2 artanh(w), and u = 2 w / (1 - w): the leading terms are taken together before the sum.
    let w = u / (2.0 + u);
    let square = w * w;
    let mut sum = 0.0;
    let (mut power, mut divisor) = (1.0, 3.0);
    while power > 1e-18 {
        sum += power / divisor;
        power *= square;
        divisor += 2.0;
    }
    w * (2.0 * square * sum - u)
}

/// What Stirling's formula leaves: `ln Gamma(x + 1) - (x + 1/2) ln x + x - ln(2 pi) / 2`, for `x` above 0.
pub(crate) fn stirling_rest(x: f64) -> f64 {
    if x < 15.0 {
        return libm::lgamma(x + 1.0) - (x + 0.5) * x.ln() + x - HALF_LOG_TWO_PI;
    }
    // Bernoulli numbers over 2k (2k - 1)
    let square = x * x;
    let small = 1.0 / 1260.0 - (1.0 / 1680.0 - (1.0 / 1188.0 - 691.0 / (360_360.0 * square)) / square) / square;
    (1.0 / 12.0 - (1.0 / 360.0 - small / square) / square) / x
}

/// `a ln(a / m) + m - a`, where `m - a` is given as `excess`: how far `m` is from `a`, never negative.
fn deviance(a: f64, m: f64, excess: f64) -> f64 {
    let relative = excess / a;
    if relative < -0.45 { excess - a * (m / a).ln() } else { -a * log_less_argument(relative) }
}

/// `ln(x^a e^-x / Gamma(a))`.
pub(crate) fn log_gamma_front(a: f64, x: f64) -> f64 {
    0.5 * (a / (2.0 * PI)).ln() - stirling_rest(a) - deviance(a, x, x - a)
}

/// `ln(x^a y^b / B(a, b))` where `x + y = 1` and `excess = b x - a y`.
pub(crate) fn log_beta_front(a: f64, b: f64, x: f64, y: f64, excess: f64) -> f64 {
    let n = a + b;
    let rest = stirling_rest(n) - stirling_rest(a) - stirling_rest(b);
    let (small, large) = if a < b { (a, b) } else { (b, a) };
    // a b / n without overflow
    let size = 0.5 * (small / (2.0 * PI) * (large / n)).ln();
    size + rest - deviance(a, n * x, excess) - deviance(b, n * y, -excess)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_fit_where_their_formula_changes() {
        for u in [-0.45_f64, 0.8] {
            let (inside, outside) = (log_less_argument(u), u.ln_1p() - u);
            assert!((inside / outside - 1.0).abs() < 4e-15, "{u}");
        }
        let direct = libm::lgamma(16.0) - 15.5 * 15.0_f64.ln() + 15.0 - HALF_LOG_TWO_PI;
        assert!((stirling_rest(15.0) - direct).abs() < 2e-14);
    }

    #[test]
    fn fronts_are_the_plain_products_where_those_can_be_had() {
        for (a, x) in [(0.5_f64, 0.2_f64), (3.0, 7.5), (12.0, 4.0)] {
            let plain = a * x.ln() - x - libm::lgamma(a);
            assert!((log_gamma_front(a, x) - plain).abs() < 1e-13, "{a} {x}");
        }
        for (a, b, x) in [(0.5_f64, 0.5_f64, 0.1_f64), (3.0, 20.0, 0.9)] {
            let y = 1.0 - x;
            let plain = a * x.ln() + b * y.ln() + libm::lgamma(a + b) - libm::lgamma(a) - libm::lgamma(b);
            assert!((log_beta_front(a, b, x, y, b * x - a * y) - plain).abs() < 1e-12, "{a} {b} {x}");
        }
    }
}
