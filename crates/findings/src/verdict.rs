//! The table of verdicts: one estimate, its two intervals, the margin and the premise give one line.
//!
//! An estimate is oriented before it comes here: positive means "as claimed".

use serde::{Deserialize, Serialize};

use crate::{Estimate, FindingError, PremiseStatus, TestLevel};

/// What a trial says about a claim.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The difference is as claimed, and as large as matters.
    Supported,
    /// The difference goes the other way, or is too small to matter as claimed.
    Contradicted,
    /// Claim without direction: the first option is better.
    FirstBetter,
    /// Claim without direction: the second option is better.
    SecondBetter,
    /// Any difference is smaller than the margin.
    NoDifferenceThatMatters,
    /// The interval is too wide to tell.
    Undecided,
    /// The premise did not occur.
    NeverTested,
}

/// How strongly a verdict may be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Strength {
    /// The whole interval lies beyond the margin.
    AtLeastTheMargin,
    /// The direction is sure, the size is not.
    DirectionSure,
    /// A real difference, smaller than matters.
    RealButSmaller,
    /// No gain that matters; a loss is not excluded.
    LossNotExcluded,
}

/// Whether a claim says which option is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Sidedness {
    /// The claim names the better option.
    Directed,
    /// Either option may be the better one.
    Either,
}

/// An interval with the share of trials in which such an interval holds the true difference.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Interval {
    /// The share, such as 0.95.
    pub level: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

impl Interval {
    /// The interval of `estimate` at `level`, from Student's t.
    pub fn of(estimate: &Estimate, level: f64) -> Interval {
        let (lower, upper) = estimate.interval(1.0 - level);
        Interval { level, lower, upper }
    }

    /// The same interval with the sides of the comparison exchanged.
    pub fn mirrored(self) -> Interval {
        Interval { level: self.level, lower: -self.upper, upper: -self.lower }
    }
}

/// What the table of verdicts looks at, in one unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Bounds {
    /// The estimate.
    pub estimate: f64,
    /// The interval for direction: 95 % at the 5 % level.
    pub interval: Interval,
    /// The interval for equivalence, of two one-sided tests: 90 % at the 5 % level.
    pub equivalence: Interval,
}

impl Bounds {
    /// The bounds of `estimate` for tests with risk `alpha` (a share).
    ///
    /// # Errors
    /// [`FindingError::NoInterval`] unless all numbers are finite, the standard error is not negative and the
    /// degrees of freedom are above zero.
    pub fn of(estimate: &Estimate, alpha: f64) -> Result<Bounds, FindingError> {
        let Estimate { estimate: value, se, df, .. } = *estimate;
        if !(value.is_finite() && se.is_finite() && df.is_finite() && se >= 0.0 && df > 0.0) {
            return Err(FindingError::NoInterval { estimate: value, se, df });
        }
        Ok(Bounds {
            estimate: value,
            interval: Interval::of(estimate, 1.0 - alpha),
            equivalence: Interval::of(estimate, 1.0 - 2.0 * alpha),
        })
    }

    /// The same numbers with the sides of the comparison exchanged.
    pub fn mirrored(self) -> Bounds {
        Bounds {
            estimate: -self.estimate,
            interval: self.interval.mirrored(),
            equivalence: self.equivalence.mirrored(),
        }
    }

    /// Whether equivalence could be shown at all: half the width of its interval is below the margin.
    pub fn could_show_equivalence(&self, margin: f64) -> bool {
        (self.equivalence.upper - self.equivalence.lower) / 2.0 < margin
    }
}

/// The line of the table that applies, and what follows from it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Judgement {
    /// The verdict that is recorded; absent without a margin.
    pub verdict: Option<Verdict>,
    /// Line of the table, 0 to 6. When the premise cannot be told: the line that would apply if it occurred.
    pub line: u8,
    /// How strongly the verdict may be told.
    pub strength: Option<Strength>,
    /// When the premise cannot be told: the verdict that would hold if it occurred.
    pub conditional: Option<Verdict>,
    /// Whether this trial could have shown that there is no difference that matters; absent without a margin.
    pub reachable: Option<bool>,
    /// The margin, in the estimate's unit.
    pub margin: Option<f64>,
    /// The numbers that were judged, oriented as claimed.
    pub bounds: Bounds,
}

/// Judges an estimate that is oriented as claimed.
///
/// - `margin`: the smallest difference worth acting on, in the estimate's unit, above zero; `None` gives line 0
///
/// # Errors
/// [`FindingError::NoInterval`] when the estimate cannot carry an interval; [`FindingError::MarginNotPositive`].
pub fn judge(
    estimate: &Estimate,
    margin: Option<f64>,
    sidedness: Sidedness,
    premise: PremiseStatus,
    level: TestLevel,
) -> Result<Judgement, FindingError> {
    if let Some(margin) = margin.filter(|margin| !(margin.is_finite() && *margin > 0.0)) {
        return Err(FindingError::MarginNotPositive { place: "margin".into(), words: margin.to_string() });
    }
    Ok(judge_bounds(Bounds::of(estimate, level.alpha())?, margin, sidedness, premise))
}

/// Judges bounds that are oriented as claimed; `margin` is above zero.
pub fn judge_bounds(bounds: Bounds, margin: Option<f64>, sidedness: Sidedness, premise: PremiseStatus) -> Judgement {
    let mut judgement = Judgement {
        verdict: None,
        line: 0,
        strength: None,
        conditional: None,
        reachable: margin.map(|margin| bounds.could_show_equivalence(margin)),
        margin,
        bounds,
    };
    let Some(margin) = margin else { return judgement };
    if premise == PremiseStatus::DidNotOccur {
        return Judgement { verdict: Some(Verdict::NeverTested), line: 1, ..judgement };
    }
    let (line, verdict, strength) = match sidedness {
        Sidedness::Directed => directed(&bounds, margin),
        Sidedness::Either => either(&bounds, margin),
    };
    judgement.line = line;
    judgement.strength = strength;
    judgement.verdict = Some(verdict);
    if premise == PremiseStatus::CannotTell {
        judgement.verdict = Some(Verdict::Undecided);
        judgement.conditional = Some(verdict);
    }
    judgement
}

/// Lines 2 to 6 of the table, in order; the first that applies.
fn directed(bounds: &Bounds, margin: f64) -> (u8, Verdict, Option<Strength>) {
    let Bounds { estimate, interval, equivalence } = bounds;
    if equivalence.lower > -margin && equivalence.upper < margin {
        let real = interval.lower > 0.0 || interval.upper < 0.0;
        return (2, Verdict::NoDifferenceThatMatters, real.then_some(Strength::RealButSmaller));
    }
    if interval.lower > 0.0 && *estimate >= margin {
        return (3, Verdict::Supported, Some(strength(interval.lower >= margin)));
    }
    if interval.upper < 0.0 {
        return (4, Verdict::Contradicted, Some(strength(interval.upper <= -margin)));
    }
    if equivalence.upper < margin {
        return (5, Verdict::Contradicted, Some(Strength::LossNotExcluded));
    }
    (6, Verdict::Undecided, None)
}

/// The table twice, the first option over the second and the second over the first.
fn either(bounds: &Bounds, margin: f64) -> (u8, Verdict, Option<Strength>) {
    match (directed(bounds, margin), directed(&bounds.mirrored(), margin)) {
        (forward @ (2, ..), _) => forward,
        ((3, _, strength), _) => (3, Verdict::FirstBetter, strength),
        (_, (3, _, strength)) => (3, Verdict::SecondBetter, strength),
        _ => (6, Verdict::Undecided, None),
    }
}

fn strength(beyond_the_margin: bool) -> Strength {
    if beyond_the_margin { Strength::AtLeastTheMargin } else { Strength::DirectionSure }
}
