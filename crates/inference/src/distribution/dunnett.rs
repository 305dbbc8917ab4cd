//! Comparisons of several means with one control: the largest of correlated t statistics.

use super::normal::{normal_density, normal_lower};
use super::quadrature::{over_estimated_deviation, sixteen_points};
use super::solve::quantile_of_upper_tail;

/// The largest absolute value of t statistics whose correlations are products `lambda_i lambda_j`.
///
/// With independent means the statistic of treatment `i` against the control has
/// `lambda_i^2 = variance of the control's mean / variance of the difference`, which covers unequal replication.
///
/// # Source
/// Dunnett (1955), JASA 50:1096-1121, and (1964), Biometrics 20:482-491, for the product form; two-dimensional
/// quadrature over the control's deviation and the estimated standard deviation. Checked against adaptive
/// quadrature in R and scipy in the tests.
#[derive(Debug, Clone)]
pub struct Dunnett {
    lambda: Vec<f64>,
}

impl Dunnett {
    /// Takes one `lambda` between -1 and 1 (both excluded) for each comparison.
    pub fn with(lambda: &[f64]) -> Self {
        // Correlation one would mean that two comparisons are the same; kept just inside.
        Self { lambda: lambda.iter().map(|value| value.clamp(-1.0 + 1e-12, 1.0 - 1e-12)).collect() }
    }

    /// Probability that some statistic is above `t` in absolute value.
    pub fn upper(&self, t: f64, df: f64) -> f64 {
        if t.is_nan() || df.is_nan() {
            return f64::NAN;
        }
        let t = t.abs();
        if let [_] = self.lambda.as_slice() {
            return super::t_two_sided(t, df);
        }
        over_estimated_deviation(df, |s| self.upper_with_known_deviation(t * s)).clamp(0.0, 1.0)
    }

    /// The value that the largest absolute statistic exceeds with probability `p`, to about 1e-9.
    pub fn quantile_of_upper(&self, p: f64, df: f64) -> f64 {
        quantile_of_upper_tail(p, |it| self.upper(it, df))
    }

    fn upper_with_known_deviation(&self, t: f64) -> f64 {
        let integrand = |z: f64| normal_density(z) * self.some_outside(z, t);
        let panel = |index: i32| {
            let from = -9.0 + f64::from(index);
            sixteen_points().integrate(from, from + 1.0, integrand)
        };
        (0..18).map(panel).sum()
    }

    /// Given the control's deviation `z`, the probability that some statistic is outside `-t..t`.
    fn some_outside(&self, z: f64, t: f64) -> f64 {
        let log_inside = |&lambda: &f64| {
            let rest = (1.0 - lambda * lambda).sqrt();
            let outside = normal_lower((-t - lambda * z) / rest) + normal_lower((lambda * z - t) / rest);
            (-outside).ln_1p()
        };
        let total: f64 = self.lambda.iter().map(log_inside).sum();
        -total.exp_m1()
    }
}
