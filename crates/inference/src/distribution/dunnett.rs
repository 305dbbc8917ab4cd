//! Comparisons of several means with one control: the largest of correlated t statistics.

use super::normal::{normal_density, normal_lower};
use super::quadrature::EstimatedDeviation;
use super::solve::quantile_of_upper_tail;

/// The control's deviation is integrated this far to either side (probability 1e-17 beyond).
const END: f64 = 8.6;

/// The largest absolute value of t statistics whose correlations are products `lambda_i lambda_j`.
///
/// With independent means the statistic of treatment `i` against the control has
/// `lambda_i^2 = variance of the control's mean / variance of the difference`, which covers unequal replication.
/// Accuracy absolute 1e-10 or better, checked against adaptive quadrature in the tests.
///
/// # Source
/// Dunnett (1955), JASA 50:1096-1121, and (1964), Biometrics 20:482-491, for the product form; evaluated by trapezoid rules
/// over the control's deviation and the logarithm of the estimated standard deviation.
#[derive(Debug, Clone)]
pub struct Dunnett {
    /// Each different factor with the number of comparisons that have it.
    factors: Vec<(f64, i32)>,
    comparisons: usize,
}

impl Dunnett {
    /// Takes one `lambda` between -1 and 1 (both excluded) for each comparison.
    pub fn with(lambda: &[f64]) -> Self {
        let mut factors: Vec<(f64, i32)> = Vec::new();
        for &value in lambda {
            // Correlation one would mean that two comparisons are the same; kept just inside.
            let value = value.clamp(-0.999_999, 0.999_999);
            match factors.iter_mut().find(|(known, _)| (known - value).abs() < 1e-14) {
                Some((_, count)) => *count += 1,
                None => factors.push((value, 1)),
            }
        }
        Self { factors, comparisons: lambda.len() }
    }

    /// Probability that some statistic is above `t` in absolute value.
    pub fn upper(&self, t: f64, df: f64) -> f64 {
        if t.is_nan() || df.is_nan() || df <= 0.0 {
            return f64::NAN;
        }
        if self.comparisons <= 1 {
            return super::t_two_sided(t, df);
        }
        self.upper_over(&EstimatedDeviation::with_df(df), t)
    }

    /// The value that the largest absolute statistic exceeds with probability `p`, to about 1e-9.
    pub fn quantile_of_upper(&self, p: f64, df: f64) -> f64 {
        if self.comparisons <= 1 {
            return -super::t_quantile(0.5 * p, df);
        }
        let deviation = EstimatedDeviation::with_df(df);
        quantile_of_upper_tail(p, |t| self.upper_over(&deviation, t))
    }

    fn upper_over(&self, deviation: &EstimatedDeviation, t: f64) -> f64 {
        deviation.mean_of(|s| self.upper_with_known_deviation(t.abs() * s)).clamp(0.0, 1.0)
    }

    fn upper_with_known_deviation(&self, t: f64) -> f64 {
        // The nearer a factor is to one, the more sharply its statistic follows the control.
        let sharpest = self.factors.iter().map(|(lambda, _)| (1.0 - lambda * lambda).sqrt() / lambda.abs().max(1e-9));
        let step = (0.22 * sharpest.fold(1.0, f64::min)).max(1e-3);
        let count = (END / step).ceil();
        let points = (0..=(2.0 * count) as usize).map(|index| (index as f64 - count) * step);
        step * points.map(|z| normal_density(z) * self.some_outside(z, t)).sum::<f64>()
    }

    /// Given the control's deviation `z`, the probability that some statistic is outside `-t..t`.
    fn some_outside(&self, z: f64, t: f64) -> f64 {
        let log_inside = |&(lambda, count): &(f64, i32)| {
            let rest = (1.0 - lambda * lambda).sqrt();
            let outside = normal_lower((-t - lambda * z) / rest) + normal_lower((lambda * z - t) / rest);
            f64::from(count) * (-outside).ln_1p()
        };
        let total: f64 = self.factors.iter().map(log_inside).sum();
        -total.exp_m1()
    }
}
