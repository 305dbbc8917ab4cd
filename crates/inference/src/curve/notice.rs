//! What must be known beside a curve, and why a form could not be fitted.

use serde::{Deserialize, Serialize};

/// Something that changes how a curve or its optimum may be read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum CurveNotice {
    /// The curve is level: no amount is better than another.
    NoResponse,
    /// The curve is not shown to explain more than one level for all amounts does.
    ResponseNotShown,
    /// The means lie further off the curve than their error allows.
    LackOfFit,
    /// As many parameters as amounts.
    NoAmountsLeft,
    /// The join falls on a tested amount, where it has no standard error.
    JoinAtTestedAmount {
        /// The amount.
        amount: f64,
    },
    /// Only one tested amount lies beyond the join.
    OneAmountBeyondJoin,
    /// Other places for the bend are nearly as good.
    OtherPlaces {
        /// Joins (or midpoints) of the other local leasts that the level does not exclude.
        amounts: Vec<f64>,
    },
    /// The optimum lies outside the tested amounts.
    Extrapolated,
    /// The lowest amount is best: more does not pay, or does not raise the response.
    LowestIsBest,
    /// The curve keeps rising: it has no optimum within the tested amounts.
    KeepsRising,
    /// The parabola has its extreme on the other side: a least where a highest is sought.
    BendsTheOtherWay,
    /// Nothing bounds the optimum from below within the tested amounts.
    NoLowerBound,
    /// Nothing bounds the optimum from above within the tested amounts.
    NoUpperBound,
    /// A level of the curve has no error of its own.
    LevelWithoutError,
    /// Amounts were counted or measured on the plots.
    AmountsMeasured,
    /// Treatments without values were left out.
    AmountsWithoutValues {
        /// How many.
        amounts: usize,
    },
    /// The curve passes through every mean and nothing else gives an error.
    NoError,
}

impl CurveNotice {
    /// The notice as one sentence.
    pub fn sentence(&self) -> String {
        match self {
            Self::NoResponse => "The curve is level, so no amount is better than another.",
            Self::ResponseNotShown => {
                "This curve is not shown to be better than no response at all, so its optimum means little."
            }
            Self::LackOfFit => {
                "The means lie further off this curve than their error allows (lack of fit): its intervals are too narrow."
            }
            Self::NoAmountsLeft => {
                "The curve has as many parameters as there are amounts: its form is assumed, not tested."
            }
            Self::JoinAtTestedAmount { .. } => {
                "The join falls on a tested amount; it has no standard error there, only the interval by profile."
            }
            Self::OneAmountBeyondJoin => "Only one tested amount lies beyond the join: the plateau rests on it alone.",
            Self::OtherPlaces { .. } => "Another place of the bend fits nearly as well; the interval takes it in.",
            Self::Extrapolated => "The optimum lies outside the tested amounts: it is extrapolated.",
            Self::LowestIsBest => "The lowest tested amount is best: more is not worth its cost, or does not help.",
            Self::KeepsRising => "The curve keeps rising over all tested amounts, so it has no optimum within them.",
            Self::BendsTheOtherWay => "The curve bends the other way: it has no optimum.",
            Self::NoLowerBound => "The optimum has no lower bound within the tested amounts.",
            Self::NoUpperBound => "The optimum has no upper bound within the tested amounts.",
            Self::LevelWithoutError => "The level of the curve has no error of its own in this layout; its shape has.",
            Self::AmountsMeasured => {
                "The amounts were counted or measured on the plots: their own errors flatten the curve, and nothing corrects for it."
            }
            Self::AmountsWithoutValues { amounts } => {
                return format!("{amounts} amount(s) have no value and were left out.");
            }
            Self::NoError => "Nothing is left to estimate error from, so nothing here has an interval.",
        }
        .to_owned()
    }
}

/// Why a form was not fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum WhyNot {
    /// Too few different amounts.
    TooFewAmounts {
        /// How many there are.
        found: usize,
        /// How many the form needs.
        needed: usize,
    },
    /// The means do not differ at all.
    NoDifferences,
    /// No plateau within the tested amounts.
    NoPlateau,
    /// Only the lowest amount lies below the join.
    OneAmountBelowJoin,
    /// The bend lies before the second or beyond the last but one amount.
    OneAmountOnASide,
    /// No bend, or one the other way.
    NoCurvature,
    /// All of the response happens before the second amount.
    CompleteBeforeSecondAmount,
    /// No turn of an S within the tested amounts.
    NoTurn,
    /// All of the response happens between two neighbouring amounts.
    StepBetweenAmounts,
    /// The given join leaves fewer than two amounts on a side.
    JoinNotInside,
    /// The amounts cannot be told apart from the units they stand on.
    NotSeparable,
}

impl WhyNot {
    /// The reason as one sentence.
    pub fn sentence(self) -> String {
        match self {
            Self::TooFewAmounts { found, needed } => {
                return format!("It needs {needed} different amounts; there are {found}.");
            }
            Self::NoDifferences => "The means of the amounts do not differ at all.",
            Self::NoPlateau => {
                "The response levels off nowhere within the tested amounts: the curve without plateau fits as well."
            }
            Self::OneAmountBelowJoin => {
                "Only the lowest amount lies below the join, so join and slope cannot be told apart."
            }
            Self::OneAmountOnASide => {
                "The join leaves only one amount on a side, so join and slope there cannot be told apart."
            }
            Self::NoCurvature => "The response does not bend towards a limit: a straight line fits as well.",
            Self::CompleteBeforeSecondAmount => {
                "The response is complete before the second amount, so its rate cannot be estimated."
            }
            Self::NoTurn => "No turn of an S-shaped response lies within the tested amounts.",
            Self::StepBetweenAmounts => {
                "The whole response lies between two neighbouring amounts, so how steep it is cannot be estimated."
            }
            Self::JoinNotInside => "The given join does not leave two different amounts on either side.",
            Self::NotSeparable => "The amounts cannot be told apart from the units they stand on.",
        }
        .to_owned()
    }
}
