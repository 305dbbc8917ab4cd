//! Distributions of positive numbers: F, chi-square, gamma and beta, all from the two incomplete functions.

use super::incomplete_beta::{BetaPoint, incomplete_beta};
use super::incomplete_gamma::incomplete_gamma;
use super::part::Part;
use super::solve::quantile;
use super::stirling::log_gamma_front;

/// One of them with its parameters: the part below or above a point, and the logarithm of the density times the point.
trait Positive {
    fn part(&self, value: f64) -> Part;
    fn log_density_by_log(&self, value: f64) -> f64;
    /// Where to start looking for quantiles.
    fn middle(&self) -> f64;
    fn makes_sense(&self) -> bool;

    fn quantile(&self, p: f64, upper: bool) -> f64 {
        if !(0.0..=1.0).contains(&p) || !self.makes_sense() {
            return f64::NAN;
        }
        if p == 0.0 || p == 1.0 {
            return if (p == 0.0) == upper { f64::INFINITY } else { 0.0 };
        }
        // the smaller tail is the one that keeps its digits
        let (upper, log_p) = if p > 0.5 { (!upper, (-p).ln_1p()) } else { (upper, p.ln()) };
        quantile(log_p, self.middle(), |value| {
            let (log_lower, log_upper) = self.part(value).log_tails();
            let (log_tail, sign) = if upper { (log_upper, -1.0) } else { (log_lower, 1.0) };
            (log_tail, sign * (self.log_density_by_log(value) - log_tail).exp())
        })
    }
}

struct Gamma {
    shape: f64,
}

impl Positive for Gamma {
    fn part(&self, value: f64) -> Part {
        incomplete_gamma(self.shape, value)
    }

    fn log_density_by_log(&self, value: f64) -> f64 {
        log_gamma_front(self.shape, value)
    }

    fn middle(&self) -> f64 {
        self.shape
    }

    fn makes_sense(&self) -> bool {
        self.shape > 0.0 && self.shape.is_finite()
    }
}

struct F {
    numerator_df: f64,
    denominator_df: f64,
}

impl F {
    fn point(&self, f: f64) -> BetaPoint {
        let (a, b) = (0.5 * self.numerator_df, 0.5 * self.denominator_df);
        // the ratio of the parts, so that neither overflows
        let ratio = a / b * f;
        let (x, y) = if ratio.is_finite() { (ratio / (1.0 + ratio), 1.0 / (1.0 + ratio)) } else { (1.0, b / a / f) };
        let excess = if ratio.is_finite() { a * (f - 1.0) / (1.0 + ratio) } else { b };
        BetaPoint { a, b, x, y, excess }
    }
}

impl Positive for F {
    fn part(&self, f: f64) -> Part {
        if f.is_nan() || !self.makes_sense() {
            return Part::NOT_A_NUMBER;
        }
        if f <= 0.0 {
            return Part::NOTHING_BELOW;
        }
        let (a, b) = (0.5 * self.numerator_df, 0.5 * self.denominator_df);
        match (a.is_infinite(), b.is_infinite()) {
            (false, false) => incomplete_beta(&self.point(f)),
            (false, true) => incomplete_gamma(a, a * f),
            (true, false) => incomplete_gamma(b, b / f).turned(),
            // both mean squares are their expectation
            (true, true) if f < 1.0 => Part::NOTHING_BELOW,
            (true, true) => Part::NOTHING_ABOVE,
        }
    }

    fn log_density_by_log(&self, f: f64) -> f64 {
        let (a, b) = (0.5 * self.numerator_df, 0.5 * self.denominator_df);
        match (a.is_infinite(), b.is_infinite()) {
            (false, true) => log_gamma_front(a, a * f),
            (true, _) => log_gamma_front(b, b / f),
            _ => self.point(f).log_front(),
        }
    }

    fn middle(&self) -> f64 {
        1.0
    }

    fn makes_sense(&self) -> bool {
        self.numerator_df > 0.0 && self.denominator_df > 0.0
    }
}

/// Over the odds `x / (1 - x)`.
struct BetaOdds {
    a: f64,
    b: f64,
}

impl Positive for BetaOdds {
    fn part(&self, odds: f64) -> Part {
        incomplete_beta(&self.point(odds))
    }

    fn log_density_by_log(&self, odds: f64) -> f64 {
        self.point(odds).log_front()
    }

    fn middle(&self) -> f64 {
        self.a / self.b
    }

    fn makes_sense(&self) -> bool {
        self.a > 0.0 && self.b > 0.0 && (self.a + self.b).is_finite()
    }
}

impl BetaOdds {
    fn point(&self, odds: f64) -> BetaPoint {
        let (x, y) = (odds / (1.0 + odds), 1.0 / (1.0 + odds));
        BetaPoint { a: self.a, b: self.b, x, y, excess: (self.b * odds - self.a) * y }
    }
}

fn beta_at(x: f64, a: f64, b: f64) -> Part {
    incomplete_beta(&beta_point(x, a, b))
}

/// The point `x` with all the digits that it has.
pub(crate) fn beta_point(x: f64, a: f64, b: f64) -> BetaPoint {
    let y = 1.0 - x;
    let lost_by_y = (1.0 - y) - x;
    BetaPoint { a, b, x, y, excess: difference_of_products(b, x, a, y) - a * lost_by_y }
}

/// `a b - c d` without the rounding of either product (Kahan's way with fused multiplication).
fn difference_of_products(a: f64, b: f64, c: f64, d: f64) -> f64 {
    let second = c * d;
    let rounding = (-c).mul_add(d, second);
    a.mul_add(b, -second) + rounding
}

fn chi_square(df: f64) -> Gamma {
    Gamma { shape: 0.5 * df }
}

/// Probability of a chi-square of at most `x`.
pub fn chi_square_lower(x: f64, df: f64) -> f64 {
    chi_square(df).part(0.5 * x).tails().0
}

/// Probability of a chi-square above `x`.
pub fn chi_square_upper(x: f64, df: f64) -> f64 {
    chi_square(df).part(0.5 * x).tails().1
}

/// Natural logarithm of [`chi_square_lower`], also where that underflows.
pub fn chi_square_log_lower(x: f64, df: f64) -> f64 {
    chi_square(df).part(0.5 * x).log_tails().0
}

/// Natural logarithm of [`chi_square_upper`], also where that underflows.
pub fn chi_square_log_upper(x: f64, df: f64) -> f64 {
    chi_square(df).part(0.5 * x).log_tails().1
}

/// The chi-square below which lies probability `p`.
pub fn chi_square_quantile(p: f64, df: f64) -> f64 {
    2.0 * chi_square(df).quantile(p, false)
}

/// The chi-square that is exceeded with probability `p`.
pub fn chi_square_quantile_of_upper(p: f64, df: f64) -> f64 {
    2.0 * chi_square(df).quantile(p, true)
}

/// Probability of a gamma variable (scale one) of at most `x`.
pub fn gamma_lower(x: f64, shape: f64) -> f64 {
    Gamma { shape }.part(x).tails().0
}

/// Probability of a gamma variable (scale one) above `x`.
pub fn gamma_upper(x: f64, shape: f64) -> f64 {
    Gamma { shape }.part(x).tails().1
}

/// Natural logarithm of [`gamma_lower`], also where that underflows.
pub fn gamma_log_lower(x: f64, shape: f64) -> f64 {
    Gamma { shape }.part(x).log_tails().0
}

/// Natural logarithm of [`gamma_upper`], also where that underflows.
pub fn gamma_log_upper(x: f64, shape: f64) -> f64 {
    Gamma { shape }.part(x).log_tails().1
}

/// The gamma variable (scale one) below which lies probability `p`.
pub fn gamma_quantile(p: f64, shape: f64) -> f64 {
    Gamma { shape }.quantile(p, false)
}

/// The gamma variable (scale one) that is exceeded with probability `p`.
pub fn gamma_quantile_of_upper(p: f64, shape: f64) -> f64 {
    Gamma { shape }.quantile(p, true)
}

/// Probability of an F above `f`.
pub fn f_upper(f: f64, numerator_df: f64, denominator_df: f64) -> f64 {
    F { numerator_df, denominator_df }.part(f).tails().1
}

/// Probability of an F of at most `f`.
pub fn f_lower(f: f64, numerator_df: f64, denominator_df: f64) -> f64 {
    F { numerator_df, denominator_df }.part(f).tails().0
}

/// Natural logarithm of [`f_upper`], also where that underflows.
pub fn f_log_upper(f: f64, numerator_df: f64, denominator_df: f64) -> f64 {
    F { numerator_df, denominator_df }.part(f).log_tails().1
}

/// Natural logarithm of [`f_lower`], also where that underflows.
pub fn f_log_lower(f: f64, numerator_df: f64, denominator_df: f64) -> f64 {
    F { numerator_df, denominator_df }.part(f).log_tails().0
}

/// The F below which lies probability `p`.
pub fn f_quantile(p: f64, numerator_df: f64, denominator_df: f64) -> f64 {
    F { numerator_df, denominator_df }.quantile(p, false)
}

/// The F that is exceeded with probability `p`.
pub fn f_quantile_of_upper(p: f64, numerator_df: f64, denominator_df: f64) -> f64 {
    F { numerator_df, denominator_df }.quantile(p, true)
}

/// Probability of a beta variable of at most `x`.
pub fn beta_lower(x: f64, a: f64, b: f64) -> f64 {
    beta_at(x, a, b).tails().0
}

/// Probability of a beta variable above `x`.
pub fn beta_upper(x: f64, a: f64, b: f64) -> f64 {
    beta_at(x, a, b).tails().1
}

/// Natural logarithm of [`beta_lower`], also where that underflows.
pub fn beta_log_lower(x: f64, a: f64, b: f64) -> f64 {
    beta_at(x, a, b).log_tails().0
}

/// Natural logarithm of [`beta_upper`], also where that underflows.
pub fn beta_log_upper(x: f64, a: f64, b: f64) -> f64 {
    beta_at(x, a, b).log_tails().1
}

/// The beta variable below which lies probability `p`.
pub fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    share_of_odds(BetaOdds { a, b }.quantile(p, false))
}

/// The beta variable that is exceeded with probability `p`.
pub fn beta_quantile_of_upper(p: f64, a: f64, b: f64) -> f64 {
    share_of_odds(BetaOdds { a, b }.quantile(p, true))
}

fn share_of_odds(odds: f64) -> f64 {
    if odds.is_infinite() { 1.0 } else { odds / (1.0 + odds) }
}
