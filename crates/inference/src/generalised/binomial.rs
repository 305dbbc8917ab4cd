//! Successes among trials, on the logit, probit or complementary log-log scale.

use super::link::ProportionLink;
use crate::distribution::{normal_density, normal_lower};
use crate::laplace::{Derivatives, Likelihood, Near};

/// Observations of a proportion.
#[derive(Debug, Clone)]
pub(crate) struct Binomial {
    pub successes: Vec<f64>,
    pub trials: Vec<f64>,
    pub link: ProportionLink,
}

/// Derivatives of `log p` and of `log (1 - p)` by the linear predictor, value first.
struct Logs {
    success: [f64; 5],
    failure: [f64; 5],
}

impl Likelihood for Binomial {
    fn near(&self, i: usize, eta: f64) -> Near {
        let (y, n) = (self.successes[i], self.trials[i]);
        match self.link {
            ProportionLink::Logit => {
                let small = (-eta.abs()).exp();
                let p = if eta > 0.0 { 1.0 } else { small } / (1.0 + small);
                let weight = n * small / ((1.0 + small) * (1.0 + small));
                Near { log: y * eta - n * (eta.max(0.0) + small.ln_1p()), slope: y - n * p, weight }
            }
            link => {
                let Logs { success, failure } = logs(link, eta);
                let sum = |k: usize| weighted(y, success[k], n - y, failure[k]);
                Near { log: sum(0), slope: sum(1), weight: -sum(2) }
            }
        }
    }

    fn is_foretold(&self, _: usize, eta: f64) -> bool {
        // a proportion of 1e-9, or that much short of all, was never estimated from counts
        match self.link {
            ProportionLink::Logit => eta.abs() > 20.0,
            ProportionLink::Probit => eta.abs() > 6.0,
            ProportionLink::ComplementaryLogLog => !(-20.0..=3.0).contains(&eta),
        }
    }

    fn derivatives(&self, i: usize, eta: f64) -> Derivatives {
        let (y, n) = (self.successes[i], self.trials[i]);
        if self.link == ProportionLink::Logit {
            let small = (-eta.abs()).exp();
            let (p, q) = if eta > 0.0 { (1.0, small) } else { (small, 1.0) };
            let (p, q) = (p / (1.0 + small), q / (1.0 + small));
            let weight = n * p * q;
            let (third, fourth) = (-weight * (q - p), -weight * (1.0 - 6.0 * p * q));
            return Derivatives { first: y * q - (n - y) * p, second: -weight, third, fourth };
        }
        let Logs { success, failure } = logs(self.link, eta);
        let sum = |k: usize| weighted(y, success[k], n - y, failure[k]);
        Derivatives { first: sum(1), second: sum(2), third: sum(3), fourth: sum(4) }
    }
}

/// `a x + b y`, where a count of none makes its term nothing, even if the other factor is infinite.
fn weighted(a: f64, x: f64, b: f64, y: f64) -> f64 {
    let term = |count: f64, value: f64| if count == 0.0 { 0.0 } else { count * value };
    term(a, x) + term(b, y)
}

fn logs(link: ProportionLink, eta: f64) -> Logs {
    match link {
        ProportionLink::Logit => unreachable!("the logit has formulas of its own"),
        ProportionLink::Probit => {
            let [value, first, second, third, fourth] = log_normal(-eta);
            Logs { success: log_normal(eta), failure: [value, -first, second, -third, fourth] }
        }
        ProportionLink::ComplementaryLogLog => {
            let m = eta.exp();
            // h = m / (e^m - 1), the slope of log(1 - e^-m) by log m
            let h = if m > 0.0 { m / m.exp_m1() } else { 1.0 };
            let first = h * (1.0 - m - h);
            let second = first * (1.0 - m - h) - h * (m + first);
            let third = second * (1.0 - m - h) - 2.0 * first * (m + first) - h * (m + second);
            let value = if m > 1e-3 { (-(-m).exp_m1()).ln() } else { eta - 0.5 * m + m * m / 24.0 };
            Logs { success: [value, h, first, second, third], failure: [-m; 5] }
        }
    }
}

/// The logarithm of the normal distribution function and its first four derivatives.
pub(crate) fn log_normal(z: f64) -> [f64; 5] {
    if z < -37.0 {
        // the leading terms of the tail's expansion; what is left out is below rounding of the value
        let inverse = 1.0 / z;
        let square = inverse * inverse;
        let value = -0.5 * z * z - (-z).ln() - 0.5 * (2.0 * std::f64::consts::PI).ln() - square;
        let first = -z - inverse + 2.0 * square * inverse;
        return [value, first, -1.0 + square, -2.0 * square * inverse, 6.0 * square * square];
    }
    let lower = normal_lower(z);
    let first = normal_density(z) / lower;
    let second = -first * (z + first);
    let third = -second * z - first - 2.0 * first * second;
    let fourth = -third * z - 2.0 * second - 2.0 * second * second - 2.0 * first * third;
    [lower.ln(), first, second, third, fourth]
}
