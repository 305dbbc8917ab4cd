//! The regularised incomplete gamma function, both parts at once.

/// `(P(a, x), Q(a, x))`, lower and upper part.
///
/// # Source
/// Series below `a + 1`, Legendre's continued fraction above (Numerical Recipes 6.2; from memory, checked against
/// scipy in the tests).
pub(crate) fn incomplete_gamma(a: f64, x: f64) -> (f64, f64) {
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    let front = (a * x.ln() - x - libm::lgamma(a)).exp();
    if x < a + 1.0 {
        let lower = (front * series(a, x)).min(1.0);
        (lower, 1.0 - lower)
    } else {
        let upper = (front * fraction(a, x)).min(1.0);
        (1.0 - upper, upper)
    }
}

fn series(a: f64, x: f64) -> f64 {
    let (mut term, mut sum, mut n) = (1.0 / a, 1.0 / a, a);
    for _ in 0..100_000 {
        n += 1.0;
        term *= x / n;
        sum += term;
        if term < sum * 1e-17 {
            break;
        }
    }
    sum
}

fn fraction(a: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let mut b = x + 1.0 - a;
    let mut c = 1.0 / TINY;
    let mut d = 1.0 / b;
    let mut result = d;
    for step in 1..100_000 {
        let i = f64::from(step);
        let numerator = -i * (i - a);
        b += 2.0;
        d = 1.0 / (numerator * d + b);
        c = b + numerator / c;
        result *= d * c;
        if (d * c - 1.0).abs() < 3e-16 {
            break;
        }
    }
    result
}
