//! Averages over the estimated standard deviation, by the trapezoid rule.
//!
//! Every integrand here is analytic and dies out at both ends of the line, where the trapezoid rule converges faster than any
//! power of its step (Trefethen & Weideman 2014, SIAM Review 56:385-458).

use super::adaptive::log_integral_of_peak;
use super::deviation::{LogDeviation, exponential_less_line};
use super::known_tail::KnownTail;

/// Points and weights of the distribution of `s`, where `df s^2` is a chi-square with `df` degrees of freedom.
///
/// `s` is the estimated over the true standard deviation: averaging over it turns a probability for known variance into one
/// for estimated variance.
#[derive(Debug, Clone)]
pub(crate) struct EstimatedDeviation {
    df: f64,
    /// `s`, its weight and the sum of the weights behind it, by rising `s`.
    points: Vec<(f64, f64, f64)>,
}

/// Above this many degrees of freedom `s` is one, to rounding of the probabilities.
const KNOWN: f64 = 1e9;
/// With fewer degrees of freedom every probability is nearly one; the rule would only grow.
const HARDLY_ANY: f64 = 0.05;
/// Logarithm of what is left out at either end, relative to the highest density.
const LEFT_OUT: f64 = 42.0;
/// Step of the rule where the integrand has a spread of one.
const STEP: f64 = 0.75;
/// What may be left out of an average, relative to it.
const NEGLIGIBLE: f64 = 1e-12;
/// A smaller average than this is integrated around its own peak, which the fixed points may not reach.
const SMALL: f64 = 1e-9;

impl EstimatedDeviation {
    /// The rule for `df` degrees of freedom (positive, may be infinite) and functions as sharp as this one.
    pub fn with_df(df: f64, known: &KnownTail) -> Self {
        let df = df.max(HARDLY_ANY);
        if df > KNOWN {
            return Self { df, points: vec![(1.0, 1.0, 0.0)] };
        }
        // Over x = ln s the density is proportional to exp(-df (exp(2x) - 1 - 2x) / 2).
        let step = STEP / (2.0 * df + known.sharpness()).sqrt();
        let depth = |x: f64| 0.5 * df * exponential_less_line(2.0 * x);
        let count = |direction: f64| {
            (1..).find(|&index| depth(direction * step * f64::from(index)) > LEFT_OUT).expect("the depth has no bound")
        };
        let (below, above) = (count(-1.0), count(1.0));
        let mut points: Vec<(f64, f64, f64)> = (1 - below..above)
            .map(|index| {
                let x = step * f64::from(index);
                (x.exp(), (-depth(x)).exp(), 0.0)
            })
            .collect();
        // The weights must sum to one; this also spares the gamma function.
        let sum: f64 = points.iter().map(|point| point.1).sum();
        let mut above = 0.0;
        for point in points.iter_mut().rev() {
            point.1 /= sum;
            point.2 = above;
            above += point.1;
        }
        Self { df, points }
    }

    /// The mean of `known(q s)`, for positive `q` and a falling function.
    pub fn mean_of(&self, known: &KnownTail, q: f64) -> f64 {
        let mut mean = 0.0;
        for &(s, weight, above) in &self.points {
            let tail = known.at(q * s);
            mean += weight * tail;
            // what is left is at most this tail for all the weight that is left
            if above * tail <= NEGLIGIBLE * mean {
                break;
            }
        }
        if mean > SMALL { mean.min(1.0) } else { self.log_mean_of(known, q).exp() }
    }

    /// Natural logarithm of the same, wherever the integrand has its peak.
    fn log_mean_of(&self, known: &KnownTail, q: f64) -> f64 {
        if self.df > KNOWN {
            return known.log_at(q);
        }
        let deviation = LogDeviation::with_df(self.df);
        let scale = 2.0 / (2.0 * self.df + known.sharpness()).sqrt();
        log_integral_of_peak(0.0, scale, |x| deviation.log_density(x) + known.log_at(q * x.exp()))
    }
}
