//! One estimated comparison with its standard error and degrees of freedom.

use crate::distribution::{t_lower, t_quantile, t_two_sided, t_upper};
use crate::{Equivalence, InferenceError};
use serde::{Deserialize, Serialize};

/// An estimate whose error is spread as a t distribution.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Estimate {
    /// The estimate, in the response's unit.
    pub estimate: f64,
    /// Its standard error, in the same unit.
    pub se: f64,
    /// Degrees of freedom of the standard error.
    pub df: f64,
}

impl Estimate {
    /// The interval that leaves out `level / 2` on either side: `interval(0.05)` is the 95 % interval.
    pub fn interval(&self, level: f64) -> (f64, f64) {
        let half = self.half_width(level);
        (self.estimate - half, self.estimate + half)
    }

    /// Half the width of [`Self::interval`].
    pub fn half_width(&self, level: f64) -> f64 {
        -t_quantile(0.5 * level, self.df) * self.se
    }

    /// Estimate over standard error.
    pub fn t(&self) -> f64 {
        self.estimate / self.se
    }

    /// Probability, if there were no difference, of an estimate at least this far from zero on either side.
    pub fn p(&self) -> f64 {
        t_two_sided(self.t(), self.df)
    }

    /// Two one-sided tests of whether the true value lies between `-margin` and `margin`.
    ///
    /// # Errors
    /// [`InferenceError::Setting`] when the margin is not a positive number, the level is not between 0 and 0.5, or the estimate
    /// has no error to make an interval of.
    /// # Source
    /// Schuirmann (1987), J. Pharmacokinet. Biopharm. 15:657-680.
    pub fn equivalence(&self, margin: f64, level: f64) -> Result<Equivalence, InferenceError> {
        if !(margin.is_finite() && margin > 0.0) {
            let (what, expected) = ("the margin".to_owned(), "a positive number".to_owned());
            return Err(InferenceError::Setting { what, value: margin, expected });
        }
        if !(level > 0.0 && level < 0.5) {
            let (what, expected) = ("the level".to_owned(), "above 0 and below 0.5".to_owned());
            return Err(InferenceError::Setting { what, value: level, expected });
        }
        self.check()?;
        let (lower, upper) = self.interval(2.0 * level);
        let p_above = t_upper((self.estimate + margin) / self.se, self.df);
        let p_below = t_lower((self.estimate - margin) / self.se, self.df);
        let p = p_above.max(p_below);
        Ok(Equivalence {
            margin,
            level,
            p_above,
            p_below,
            p,
            lower,
            upper,
            equivalent: lower > -margin && upper < margin,
            reachable: self.half_width(2.0 * level) < margin,
        })
    }

    fn check(&self) -> Result<(), InferenceError> {
        let wrong = |what: &str, value: f64, expected: &str| {
            Err(InferenceError::Setting { what: what.to_owned(), value, expected: expected.to_owned() })
        };
        if !self.estimate.is_finite() {
            return wrong("the estimate", self.estimate, "a number");
        }
        if !(self.se.is_finite() && self.se > 0.0) {
            return wrong("the standard error", self.se, "a number above zero");
        }
        if self.df.is_nan() || self.df <= 0.0 {
            return wrong("the degrees of freedom", self.df, "above zero");
        }
        Ok(())
    }
}
