//! The regularised incomplete beta function, both parts at once.

/// `(I_x(a, b), 1 - I_x(a, b))` where `y = 1 - x` is given too, so that neither part loses digits.
///
/// # Source
/// Continued fraction of DiDonato & Morris (1992), ACM Trans. Math. Softw. 18:360-373 (BFRAC), in the form of
/// Numerical Recipes 6.4, evaluated by the modified Lentz method (Thompson & Barnett 1986); the formulas from memory,
/// checked against scipy in the tests.
pub(crate) fn incomplete_beta(a: f64, b: f64, x: f64, y: f64) -> (f64, f64) {
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    if y <= 0.0 {
        return (1.0, 0.0);
    }
    // the logarithm of a number near one is taken from the other part, which keeps its digits
    let log_x = if y < 0.5 { (-y).ln_1p() } else { x.ln() };
    let log_y = if x < 0.5 { (-x).ln_1p() } else { y.ln() };
    let front = (a * log_x + b * log_y - log_beta(a, b)).exp();
    // The fraction converges fast on the near side of the mean.
    if x < (a + 1.0) / (a + b + 2.0) {
        let part = (front * fraction(a, b, x) / a).min(1.0);
        (part, 1.0 - part)
    } else {
        let part = (front * fraction(b, a, y) / b).min(1.0);
        (1.0 - part, part)
    }
}

/// Natural logarithm of the beta function.
pub(crate) fn log_beta(a: f64, b: f64) -> f64 {
    let (small, large) = if a < b { (a, b) } else { (b, a) };
    if large < 50.0 {
        return libm::lgamma(a) + libm::lgamma(b) - libm::lgamma(a + b);
    }
    // The difference of two large log-gammas by Stirling's series, so that no digits cancel.
    let ratio = (large + small - 0.5) * (small / large).ln_1p() + small * large.ln() - small + stirling(large + small)
        - stirling(large);
    libm::lgamma(small) - ratio
}

/// What Stirling's formula leaves of the logarithm of gamma, for arguments of 50 and more.
fn stirling(x: f64) -> f64 {
    let square = x * x;
    (1.0 / 12.0 - (1.0 / 360.0 - (1.0 / 1260.0 - 1.0 / (1680.0 * square)) / square) / square) / x
}

fn fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let away_from_zero = |value: f64| if value.abs() < TINY { TINY } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut result = d;
    for step in 1..20_000 {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / away_from_zero(1.0 + even * d);
        c = away_from_zero(1.0 + even / c);
        result *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / away_from_zero(1.0 + odd * d);
        c = away_from_zero(1.0 + odd / c);
        result *= d * c;
        if (d * c - 1.0).abs() < 3e-16 {
            break;
        }
    }
    result
}
