//! An estimate against the smallest difference that matters, from both sides.

use crate::distribution::{t_lower, t_upper};
use crate::{Equivalence, Estimate, InferenceError};
use serde::{Deserialize, Serialize};

/// All that one estimate says about a margin.
///
/// Two intervals decide, and nothing else: the one that leaves out `level` on both sides together for direction and for size beyond
/// the margin (95 % at level 0.05), the one that leaves out `level` on either side for what is smaller than the margin (90 %). Each p
/// is that of the same question as a one-sided test: below `level / 2` for the former, below `level` for the latter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct AgainstMargin {
    /// The smallest difference that matters, in the response's unit.
    pub margin: f64,
    /// Two-sided level for direction, one-sided for what is smaller than the margin.
    pub level: f64,
    /// Lower end of the interval for direction.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// On which side of zero that interval lies.
    pub direction: Direction,
    /// Two-sided p of no difference at all.
    pub p_direction: f64,
    /// Whether the difference is above zero by at least the margin: `lower` is not below it.
    pub above_by_margin: bool,
    /// One-sided p for "the true value is above the margin".
    pub p_above_by_margin: f64,
    /// Whether the difference is below zero by at least the margin.
    pub below_by_margin: bool,
    /// One-sided p for "the true value is below minus the margin".
    pub p_below_by_margin: f64,
    /// Whether a loss of the margin is excluded (not inferior): the interval of `equivalence` lies above minus the margin. Its p is
    /// `equivalence.p_above`.
    pub no_loss_that_matters: bool,
    /// Whether a gain of the margin is excluded: that interval lies below the margin. Its p is `equivalence.p_below`.
    pub no_gain_that_matters: bool,
    /// Whether both are excluded, and whether they could have been.
    pub equivalence: Equivalence,
}

/// On which side of zero an interval lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    /// All of it above zero.
    Above,
    /// All of it below zero.
    Below,
    /// Zero lies in it.
    Open,
}

impl Direction {
    fn of(lower: f64, upper: f64) -> Self {
        if lower > 0.0 {
            Self::Above
        } else if upper < 0.0 {
            Self::Below
        } else {
            Self::Open
        }
    }
}

impl Estimate {
    /// Direction, size beyond the margin, and what is smaller than the margin.
    ///
    /// # Errors
    /// As [`Self::equivalence`].
    /// # Source
    /// Schuirmann (1987), J. Pharmacokinet. Biopharm. 15:657-680, for what is smaller than the margin; one-sided t tests against the
    /// margin for what is beyond it.
    /// # Example
    /// ```
    /// use guardrow_inference::{Direction, Estimate};
    /// let gain = Estimate { estimate: 310.0, se: 90.0, df: 27.0 };
    /// let said = gain.against_margin(200.0, 0.05)?;
    /// // a gain for sure, but not for sure of 200
    /// assert!(said.direction == Direction::Above && !said.above_by_margin && said.no_loss_that_matters);
    /// # Ok::<(), guardrow_inference::InferenceError>(())
    /// ```
    pub fn against_margin(&self, margin: f64, level: f64) -> Result<AgainstMargin, InferenceError> {
        let equivalence = self.equivalence(margin, level)?;
        let (lower, upper) = self.interval(level);
        Ok(AgainstMargin {
            margin,
            level,
            lower,
            upper,
            direction: Direction::of(lower, upper),
            p_direction: self.p(),
            above_by_margin: lower >= margin,
            p_above_by_margin: t_upper((self.estimate - margin) / self.se, self.df),
            below_by_margin: upper <= -margin,
            p_below_by_margin: t_lower((self.estimate + margin) / self.se, self.df),
            no_loss_that_matters: equivalence.lower > -margin,
            no_gain_that_matters: equivalence.upper < margin,
            equivalence,
        })
    }
}
