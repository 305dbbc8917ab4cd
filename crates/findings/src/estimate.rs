//! One estimated difference with its standard error, and its interval from Student's t.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// A difference, its standard error in the same unit, and the degrees of freedom of the standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The difference.
    pub estimate: f64,
    /// Its standard error.
    pub se: f64,
    /// Degrees of freedom.
    pub df: f64,
}

impl Estimate {
    /// The interval that leaves out `level / 2` on either side: `interval(0.05)` is the 95 % interval.
    pub fn interval(&self, level: f64) -> (f64, f64) {
        let half = t_quantile(1.0 - level / 2.0, self.df) * self.se;
        (self.estimate - half, self.estimate + half)
    }
}

/// The value below which lies probability `p`, for `df` above zero; not a number otherwise.
pub(crate) fn t_quantile(p: f64, df: f64) -> f64 {
    StudentsT::new(0.0, 1.0, df).map(|t| t.inverse_cdf(p)).unwrap_or(f64::NAN)
}
