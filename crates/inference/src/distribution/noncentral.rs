//! Noncentral F, beta and chi-square: mixtures of central ones over a Poisson number.

use super::incomplete_beta::{BetaPoint, incomplete_beta};
use super::incomplete_gamma::incomplete_gamma;
use super::part::Part;
use super::stirling::{log_beta_front, log_gamma_front};

/// Terms of a mixture are left out when they are smaller than this, relative to the sum, and falling.
const NEGLIGIBLE: f64 = 1e-18;

/// A family of central distributions at one point, the shape growing by one with each step.
///
/// `lower(j) - lower(j + 1) = step(j)`: every step moves a known mass across the point.
struct Family<'a> {
    /// The distribution at step `j`.
    part: &'a dyn Fn(f64) -> Part,
    /// Natural logarithm of `step(j)`.
    log_step: &'a dyn Fn(f64) -> f64,
    /// `step(j + 1) / step(j)`.
    ratio: &'a dyn Fn(f64) -> f64,
}

/// Natural logarithms of the mixture over a Poisson number with mean `half` (half the noncentrality).
///
/// Either sum has positive terms only. It starts on the far side of the Poisson distribution's bulk and runs over the peak of its
/// terms until they are negligible *and* falling, so that it cannot stop before it has begun, however large the noncentrality;
/// along the way every central probability follows from its neighbour by an addition.
///
/// # Source
/// The mixture: Johnson, Kotz & Balakrishnan (1995), Continuous Univariate Distributions 2, chapters 29 and 30. Starting at the
/// bulk instead of zero: Benton & Krishnamoorthy (2003), Comput. Stat. Data Anal. 43:249-267 (the idea; both from memory).
impl Family<'_> {
    fn log_lower(&self, half: f64) -> f64 {
        // beyond this the Poisson probability is 1e-18 of its peak, and central probabilities only fall
        let first = (half + 9.3 * half.sqrt() + 25.0).ceil();
        let log_tail = (self.part)(first).log_tails().0;
        let mut sum = Sum::starting(log_poisson(first, half) + log_tail, (self.log_step)(first) - log_tail);
        let mut j = first;
        while j > 0.0 {
            j -= 1.0;
            let odds = (j + 1.0) / half;
            sum.moved *= odds / (self.ratio)(j);
            let next = odds * sum.term + sum.moved;
            if sum.add_is_last(next) {
                break;
            }
        }
        sum.log()
    }

    fn log_upper(&self, half: f64) -> f64 {
        let first = (half - 9.3 * half.sqrt() - 1.0).floor().max(0.0);
        let log_tail = (self.part)(first).log_tails().1;
        let mut sum = Sum::starting(log_poisson(first, half) + log_tail, (self.log_step)(first) - log_tail);
        let mut j = first;
        loop {
            let odds = half / (j + 1.0);
            let next = odds * (sum.term + sum.moved);
            sum.moved *= odds * (self.ratio)(j);
            j += 1.0;
            if sum.add_is_last(next) {
                break;
            }
        }
        sum.log()
    }
}

/// A running sum whose terms may grow beyond any bound: the scale is kept apart.
struct Sum {
    log_scale: f64,
    /// Poisson probability times central probability.
    term: f64,
    /// Poisson probability times the mass that the next step moves.
    moved: f64,
    total: f64,
}

impl Sum {
    fn starting(log_term: f64, log_moved: f64) -> Self {
        if log_term == f64::NEG_INFINITY || log_term.is_nan() {
            return Self { log_scale: log_term, term: 1.0, moved: 0.0, total: 1.0 };
        }
        Self { log_scale: log_term, term: 1.0, moved: log_moved.exp(), total: 1.0 }
    }

    fn add_is_last(&mut self, next: f64) -> bool {
        let falling = next < self.term;
        self.term = next;
        self.total += next;
        if self.total > 1e200 {
            self.term *= 1e-200;
            self.moved *= 1e-200;
            self.total *= 1e-200;
            self.log_scale += 200.0 * std::f64::consts::LN_10;
        }
        (falling && self.term < NEGLIGIBLE * self.total) || !self.total.is_finite()
    }

    fn log(&self) -> f64 {
        (self.log_scale + self.total.ln()).min(0.0)
    }
}

fn log_poisson(j: f64, mean: f64) -> f64 {
    if j == 0.0 { -mean } else { log_gamma_front(j, mean) - j.ln() }
}

/// The mixture's two sides at a point of the beta distribution with parameters `a + j` and `b`.
fn beta_mixture(point: &BetaPoint, half: f64, upper: bool) -> f64 {
    let BetaPoint { a, b, x, y, excess } = *point;
    // b x - (a + j) y
    let part = |j: f64| incomplete_beta(&BetaPoint { a: a + j, excess: excess - j * y, ..*point });
    let log_step = |j: f64| log_beta_front(a + j, b, x, y, excess - j * y) - (a + j).ln();
    let ratio = |j: f64| x * ((a + b + j) / (a + j + 1.0));
    one_side(&Family { part: &part, log_step: &log_step, ratio: &ratio }, half, upper)
}

fn gamma_mixture(a: f64, x: f64, half: f64, upper: bool) -> f64 {
    let part = |j: f64| incomplete_gamma(a + j, x);
    let log_step = |j: f64| log_gamma_front(a + j, x) - (a + j).ln();
    let ratio = |j: f64| x / (a + j + 1.0);
    one_side(&Family { part: &part, log_step: &log_step, ratio: &ratio }, half, upper)
}

fn one_side(family: &Family, half: f64, upper: bool) -> f64 {
    if half == 0.0 {
        let (lower, above) = (family.part)(0.0).log_tails();
        return if upper { above } else { lower };
    }
    let log = if upper { family.log_upper(half) } else { family.log_lower(half) };
    // Next to one the sum's rounding would hide the other tail.
    if log > -1e-3 {
        let other = if upper { family.log_lower(half) } else { family.log_upper(half) };
        return (-other.exp()).ln_1p();
    }
    log
}

/// What lies outside the support, or makes no sense; the rest goes through `inside`.
fn within(value: f64, end: f64, sensible: bool, upper: bool, inside: impl FnOnce() -> f64) -> f64 {
    if value.is_nan() || !sensible {
        return f64::NAN;
    }
    if value <= 0.0 || value >= end {
        return if (value <= 0.0) == upper { 0.0 } else { f64::NEG_INFINITY };
    }
    inside()
}

fn noncentral_f(f: f64, numerator_df: f64, denominator_df: f64, lambda: f64, upper: bool) -> f64 {
    let (a, b) = (0.5 * numerator_df, 0.5 * denominator_df);
    let sensible = a > 0.0 && a.is_finite() && b > 0.0 && lambda >= 0.0 && lambda.is_finite();
    within(f, f64::INFINITY, sensible, upper, || {
        if b.is_infinite() {
            return gamma_mixture(a, a * f, 0.5 * lambda, upper);
        }
        let ratio = a / b * f;
        let (x, y) = (ratio / (1.0 + ratio), 1.0 / (1.0 + ratio));
        beta_mixture(&BetaPoint { a, b, x, y, excess: a * (f - 1.0) * y }, 0.5 * lambda, upper)
    })
}

/// Natural logarithm of the probability of a noncentral F above `f`.
///
/// `lambda` is the noncentrality: the sum of squared true effects over the error variance (of their means), so that the mean of
/// the numerator's sum of squares is `numerator_df + lambda` error variances. `denominator_df` may be infinite.
pub fn noncentral_f_log_upper(f: f64, numerator_df: f64, denominator_df: f64, lambda: f64) -> f64 {
    noncentral_f(f, numerator_df, denominator_df, lambda, true)
}

/// Natural logarithm of the probability of a noncentral F of at most `f`.
pub fn noncentral_f_log_lower(f: f64, numerator_df: f64, denominator_df: f64, lambda: f64) -> f64 {
    noncentral_f(f, numerator_df, denominator_df, lambda, false)
}

/// Probability of a noncentral F above `f`.
pub fn noncentral_f_upper(f: f64, numerator_df: f64, denominator_df: f64, lambda: f64) -> f64 {
    noncentral_f_log_upper(f, numerator_df, denominator_df, lambda).exp()
}

/// Probability of a noncentral F of at most `f`.
pub fn noncentral_f_lower(f: f64, numerator_df: f64, denominator_df: f64, lambda: f64) -> f64 {
    noncentral_f_log_lower(f, numerator_df, denominator_df, lambda).exp()
}

/// The noncentral F below which lies probability `p`.
pub fn noncentral_f_quantile(p: f64, numerator_df: f64, denominator_df: f64, lambda: f64) -> f64 {
    let start = 1.0 + lambda / numerator_df;
    positive_quantile(p, start, |f, upper| noncentral_f(f, numerator_df, denominator_df, lambda, upper))
}

/// Natural logarithm of the probability of a noncentral chi-square above `x`.
pub fn noncentral_chi_square_log_upper(x: f64, df: f64, lambda: f64) -> f64 {
    noncentral_f_log_upper(x / df, df, f64::INFINITY, lambda)
}

/// Natural logarithm of the probability of a noncentral chi-square of at most `x`.
pub fn noncentral_chi_square_log_lower(x: f64, df: f64, lambda: f64) -> f64 {
    noncentral_f_log_lower(x / df, df, f64::INFINITY, lambda)
}

fn noncentral_beta(x: f64, a: f64, b: f64, lambda: f64, upper: bool) -> f64 {
    let sensible = a > 0.0 && b > 0.0 && (a + b).is_finite() && lambda >= 0.0 && lambda.is_finite();
    within(x, 1.0, sensible, upper, || beta_mixture(&super::positive::beta_point(x, a, b), 0.5 * lambda, upper))
}

/// Natural logarithm of the probability of a noncentral beta variable above `x`; noncentrality on the first of its two
/// chi-squares.
pub fn noncentral_beta_log_upper(x: f64, a: f64, b: f64, lambda: f64) -> f64 {
    noncentral_beta(x, a, b, lambda, true)
}

/// Natural logarithm of the probability of a noncentral beta variable of at most `x`.
pub fn noncentral_beta_log_lower(x: f64, a: f64, b: f64, lambda: f64) -> f64 {
    noncentral_beta(x, a, b, lambda, false)
}

/// Probability of a noncentral beta variable above `x`.
pub fn noncentral_beta_upper(x: f64, a: f64, b: f64, lambda: f64) -> f64 {
    noncentral_beta_log_upper(x, a, b, lambda).exp()
}

/// Probability of a noncentral beta variable of at most `x`.
pub fn noncentral_beta_lower(x: f64, a: f64, b: f64, lambda: f64) -> f64 {
    noncentral_beta_log_lower(x, a, b, lambda).exp()
}

/// The root over the logarithm of the value, on the tail that is the smaller.
fn positive_quantile(p: f64, start: f64, log_tail: impl Fn(f64, bool) -> f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || log_tail(start, true).is_nan() {
        return f64::NAN;
    }
    if p == 0.0 || p == 1.0 {
        return if p == 0.0 { 0.0 } else { f64::INFINITY };
    }
    let root = if p <= 0.5 {
        super::solve::increasing_root(start.ln(), 0.5, |x| log_tail(x.exp(), false) - p.ln())
    } else {
        super::solve::increasing_root(start.ln(), 0.5, |x| (-p).ln_1p() - log_tail(x.exp(), true))
    };
    root.exp()
}
