//! The estimated over the true standard deviation: `s` with `df s^2` a chi-square on `df` degrees of freedom.

use super::stirling::log_gamma_front;

/// Natural logarithm of the density of `ln s` at `x`; degrees of freedom finite.
///
/// `s = exp(x)` turns a statement for known variance into one for estimated variance.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LogDeviation {
    half_df: f64,
    at_zero: f64,
}

impl LogDeviation {
    /// For `df` degrees of freedom.
    pub fn with_df(df: f64) -> Self {
        let half_df = 0.5 * df;
        Self { half_df, at_zero: std::f64::consts::LN_2 + log_gamma_front(half_df, half_df) }
    }

    /// The logarithm of the density.
    pub fn log_density(&self, x: f64) -> f64 {
        self.at_zero - self.half_df * exponential_less_line(2.0 * x)
    }

    /// Standard deviation of `x`, nearly.
    pub fn spread(&self) -> f64 {
        0.5 / self.half_df.sqrt()
    }
}

/// `e^u - 1 - u`.
pub(crate) fn exponential_less_line(u: f64) -> f64 {
    if u.abs() > 0.5 {
        return u.exp_m1() - u;
    }
    let (mut term, mut sum, mut n) = (0.5 * u * u, 0.0, 2.0);
    while term.abs() > 1e-18 * sum {
        sum += term;
        n += 1.0;
        term *= u / n;
    }
    sum
}
