//! Counts on the log scale: Poisson, and negative binomial with variance `mu + alpha mu^2`.

use crate::laplace::{ByExtra, ByTwoExtras, Derivatives, ExtraDerivatives, Likelihood, Near};

/// Logarithm of an expected count (1e-9) that was never estimated from counts.
const NEVER_ESTIMATED: f64 = -20.0;

/// Counts that vary as Poisson counts do.
#[derive(Debug, Clone)]
pub(crate) struct Poisson {
    pub counts: Vec<f64>,
}

impl Likelihood for Poisson {
    fn near(&self, i: usize, eta: f64) -> Near {
        let mean = eta.exp();
        Near { log: self.counts[i] * eta - mean, slope: self.counts[i] - mean, weight: mean }
    }

    fn is_foretold(&self, _: usize, eta: f64) -> bool {
        eta < NEVER_ESTIMATED
    }

    fn derivatives(&self, i: usize, eta: f64) -> Derivatives {
        let mean = eta.exp();
        Derivatives { first: self.counts[i] - mean, second: -mean, third: -mean, fourth: -mean }
    }
}

/// Counts that vary more. The parameter is `omega`, the coefficient of variation of the rates behind the counts:
/// `alpha = omega^2 = 1 / theta`; zero is Poisson.
#[derive(Debug, Clone)]
pub(crate) struct NegativeBinomial {
    counts: Vec<f64>,
    omega: f64,
    /// For every observation `sum_(j < y) log(1 + alpha j)` and its first two derivatives by `alpha`.
    rising: Vec<[f64; 3]>,
}

/// Above this count the sum of logarithms is taken from gamma functions instead of term by term.
const TERM_BY_TERM: f64 = 4096.0;

impl NegativeBinomial {
    pub fn new(counts: Vec<f64>) -> Self {
        Self { rising: Vec::new(), omega: 0.0, counts }
    }

    fn alpha(&self) -> f64 {
        self.omega * self.omega
    }
}

impl Likelihood for NegativeBinomial {
    fn extras(&self) -> usize {
        1
    }

    fn extras_are_spreads(&self) -> bool {
        true
    }

    fn set_extras(&mut self, values: &[f64]) -> bool {
        if self.rising.is_empty() || values[0] != self.omega {
            self.omega = values[0];
            self.rising = rising_logs(&self.counts, self.alpha());
        }
        self.omega.is_finite() && self.omega.abs() < 1e3
    }

    fn near(&self, i: usize, eta: f64) -> Near {
        let (y, alpha, mean) = (self.counts[i], self.alpha(), eta.exp());
        let spread = 1.0 + alpha * mean;
        let log = self.rising[i][0] + y * eta - y * (alpha * mean).ln_1p() - mean * log_ratio(alpha * mean);
        Near { log, slope: (y - mean) / spread, weight: mean * (1.0 + alpha * y) / (spread * spread) }
    }

    fn is_foretold(&self, _: usize, eta: f64) -> bool {
        eta < NEVER_ESTIMATED
    }

    fn derivatives(&self, i: usize, eta: f64) -> Derivatives {
        let (y, alpha, mean) = (self.counts[i], self.alpha(), eta.exp());
        let (x, spread) = (alpha * mean, 1.0 + alpha * mean);
        let second = -mean * (1.0 + alpha * y) / (spread * spread);
        Derivatives {
            first: (y - mean) / spread,
            second,
            third: second * (1.0 - x) / spread,
            fourth: second * (1.0 - 4.0 * x + x * x) / (spread * spread),
        }
    }

    fn by_extras(&self, i: usize, eta: f64) -> ExtraDerivatives {
        let (y, alpha, mean) = (self.counts[i], self.alpha(), eta.exp());
        let (x, d) = (alpha * mean, 1.0 + alpha * mean);
        let (a, m) = (1.0 + alpha * y, mean);
        let (bend, bend_slope) = bend(x);
        let [_, rising, rising_twice] = self.rising[i];
        // by alpha, then by omega with alpha = omega^2
        let log = [rising - y * m / d + m * m * bend, rising_twice + y * m * m / (d * d) + m.powi(3) * bend_slope];
        let first = [-(y - m) * m / (d * d), 2.0 * (y - m) * m * m / d.powi(3)];
        let second = [
            -y * m / (d * d) + 2.0 * a * m * m / d.powi(3),
            4.0 * y * m * m / d.powi(3) - 6.0 * a * m.powi(3) / d.powi(4),
        ];
        let third = (-y * m * (1.0 - x) + a * m * m) / d.powi(3) + 3.0 * a * m * m * (1.0 - x) / d.powi(4);
        let once = |by_alpha: f64| 2.0 * self.omega * by_alpha;
        let twice = |[one, two]: [f64; 2]| 2.0 * one + 4.0 * alpha * two;
        ExtraDerivatives {
            once: [
                Some(ByExtra {
                    extra: 0,
                    log: once(log[0]),
                    first: once(first[0]),
                    second: once(second[0]),
                    third: once(third),
                }),
                None,
            ],
            twice: [
                Some(ByTwoExtras { a: 0, b: 0, log: twice(log), first: twice(first), second: twice(second) }),
                None,
                None,
            ],
        }
    }
}

/// `log(1 + x) / x`.
fn log_ratio(x: f64) -> f64 {
    if x < 1e-8 { 1.0 - 0.5 * x } else { x.ln_1p() / x }
}

/// `b(x) = (log(1 + x) - x / (1 + x)) / x^2` and its derivative, by their series near zero, where the formula cancels.
fn bend(x: f64) -> (f64, f64) {
    if x < 0.02 {
        let coefficient = |k: i32| alternating(k) * f64::from(k - 1) / f64::from(k);
        let value = (2..14).rev().fold(0.0, |sum, k| sum * x + coefficient(k));
        let slope = (3..14).rev().fold(0.0, |sum, k| sum * x + f64::from(k - 2) * coefficient(k));
        return (value, slope);
    }
    let value = (x.ln_1p() - x / (1.0 + x)) / (x * x);
    (value, 1.0 / (x * (1.0 + x) * (1.0 + x)) - 2.0 * value / x)
}

/// `(-1)^k`.
fn alternating(k: i32) -> f64 {
    if k % 2 == 0 { 1.0 } else { -1.0 }
}

fn rising_logs(counts: &[f64], alpha: f64) -> Vec<[f64; 3]> {
    let largest = counts.iter().filter(|&&count| count <= TERM_BY_TERM).fold(0.0_f64, |largest, &y| largest.max(y));
    let mut table = vec![[0.0; 3]];
    let mut sum = [0.0; 3];
    for j in 0..largest as usize {
        let j = j as f64;
        let ratio = j / (1.0 + alpha * j);
        sum = [sum[0] + (alpha * j).ln_1p(), sum[1] + ratio, sum[2] - ratio * ratio];
        table.push(sum);
    }
    counts.iter().map(|&y| table.get(y as usize).copied().unwrap_or_else(|| rising_log(y, alpha))).collect()
}

/// The same sum for a large count: the first terms one by one, the rest by Euler and Maclaurin's formula, in which
/// `alpha / (1 + alpha j)` is at most `1 / j`.
///
/// # Source
/// Abramowitz & Stegun 23.1.30 (from memory; the tests add the terms up).
fn rising_log(count: f64, alpha: f64) -> [f64; 3] {
    const FIRST: usize = 64;
    let mut sum = [0.0; 3];
    let mut add = |terms: [f64; 3], sign: f64| (0..3).for_each(|k| sum[k] += sign * terms[k]);
    for j in 0..FIRST {
        let j = j as f64;
        let ratio = j / (1.0 + alpha * j);
        add([(alpha * j).ln_1p(), ratio, -ratio * ratio], 1.0);
    }
    add(antiderivative(count, alpha), 1.0);
    add(antiderivative(FIRST as f64, alpha), -1.0);
    for (end, sign) in [(count, -1.0), (FIRST as f64, 1.0)] {
        // half of the end terms, then the first and third derivative by j
        let below = 1.0 + alpha * end;
        let ratio = end / below;
        add([0.5 * below.ln(), 0.5 * ratio, -0.5 * ratio * ratio], sign);
        let slope = [alpha / below, below.powi(-2), -2.0 * end * below.powi(-3)];
        add(slope.map(|value| value / 12.0), -sign);
        let bend = [
            2.0 * alpha.powi(3) * below.powi(-3),
            6.0 * alpha * alpha * below.powi(-4),
            12.0 * alpha * (1.0 - alpha * end) * below.powi(-5),
        ];
        add(bend.map(|value| value / 720.0), sign);
    }
    sum
}

/// `((1 + alpha t) log(1 + alpha t) - alpha t) / alpha`, the integral of `log(1 + alpha j)` to `t`, with its derivatives by
/// `alpha`.
fn antiderivative(t: f64, alpha: f64) -> [f64; 3] {
    let x = alpha * t;
    if x < 0.02 {
        // sum over k >= 2 of (-1)^k x^(k-1) / (k (k-1)), times t, by series
        let coefficient = |k: i32| alternating(k) / f64::from(k * (k - 1));
        let value = (2..14).rev().fold(0.0, |sum, k| (sum + coefficient(k)) * x);
        let slope = (2..14).rev().fold(0.0, |sum, k| sum * x + f64::from(k - 1) * coefficient(k));
        let bend = (3..14).rev().fold(0.0, |sum, k| sum * x + f64::from((k - 1) * (k - 2)) * coefficient(k));
        return [value * t, slope * t * t, bend * t.powi(3)];
    }
    let log = x.ln_1p();
    let value = ((1.0 + x) * log - x) / x;
    let slope = (x - log) / (x * x);
    let bend = 1.0 / (x * (1.0 + x)) - 2.0 * slope / x;
    [value * t, slope * t * t, bend * t.powi(3)]
}
