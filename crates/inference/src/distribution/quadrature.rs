//! Averages over the estimated standard deviation, by the trapezoid rule.
//!
//! Every integrand here is analytic and dies out at both ends of the line, where the trapezoid rule converges faster than any
//! power of its step (Trefethen & Weideman 2014, SIAM Review 56:385-458).

/// Points and weights of the distribution of `s`, where `df s^2` is a chi-square with `df` degrees of freedom.
///
/// `s` is the estimated over the true standard deviation: averaging over it turns a probability for known variance into one
/// for estimated variance.
#[derive(Debug, Clone)]
pub(crate) struct EstimatedDeviation {
    pub points: Vec<f64>,
    pub weights: Vec<f64>,
}

/// Above this many degrees of freedom `s` is one, to rounding of the probabilities.
const KNOWN: f64 = 1e9;
/// With fewer degrees of freedom every probability is nearly one; the rule would only grow.
const HARDLY_ANY: f64 = 0.05;
/// Logarithm of what is left out at either end, relative to the highest density.
const LEFT_OUT: f64 = 36.0;

impl EstimatedDeviation {
    /// The rule for `df` degrees of freedom (positive, may be infinite).
    pub fn with_df(df: f64) -> Self {
        let df = df.max(HARDLY_ANY);
        if df > KNOWN {
            return Self { points: vec![1.0], weights: vec![1.0] };
        }
        // Over x = ln s the density is proportional to exp(df (x - (exp(2x) - 1) / 2)): nearly normal, with this spread.
        let spread = 1.0 / (2.0 * df).sqrt();
        // The second bound is for the averaged functions, which fall from one to nothing over a tenth or more of x.
        let step = (0.55 * spread).min(0.06);
        let depth = |x: f64| df * (0.5 * (2.0 * x).exp_m1() - x);
        let below = (1..).map(|index| -step * f64::from(index)).take_while(|&x| depth(x) < LEFT_OUT);
        let above = (1..).map(|index| step * f64::from(index)).take_while(|&x| depth(x) < LEFT_OUT);
        let logarithms: Vec<f64> = std::iter::once(0.0).chain(below).chain(above).collect();
        let weights: Vec<f64> = logarithms.iter().map(|&x| (-depth(x)).exp()).collect();
        // The weights must sum to one; this also spares the gamma function.
        let total: f64 = weights.iter().sum();
        Self {
            points: logarithms.iter().map(|x| x.exp()).collect(),
            weights: weights.iter().map(|weight| weight / total).collect(),
        }
    }

    /// The mean of `function(s)`.
    pub fn mean_of(&self, function: impl Fn(f64) -> f64) -> f64 {
        self.points.iter().zip(&self.weights).map(|(&point, weight)| weight * function(point)).sum()
    }
}
