//! Question, chain, premise and margin against results: verdicts and the sentences that may be said.
//!
//! Pure: takes values and returns values. [`find`] is the way in; the rules are told in `docs/numbers/verdicts.md`.

mod caution;
mod chain;
mod chance;
mod contrast;
mod error;
mod estimates;
mod figure;
mod finding;
mod finding_sentence;
mod gate;
mod gate_sentence;
mod margin;
mod premise;
mod question;
mod sentence;
mod test_level;
mod verdict;
mod words;

pub use caution::FEW_ERROR_DF;
pub use chain::{Chain, LinkState, RivalState, StepFinding};
pub use chance::{MOST_REPLICATES, Prospect, TARGET_CHANCE, WhatItTakes, what_it_takes};
pub use contrast::{Contrast, weights};
pub use error::FindingError;
pub use estimates::{Estimates, Numbers};
pub use finding::{Finding, Findings, MeasureResult, Measures, Setting, find};
pub use gate::{
    Crossing, EffectClass, GateResult, GateRule, LargestDifference, LevelOutcome, SimpleEffect, class_of, judge_levels,
};
pub use guardrow_inference::Estimate;
pub use margin::{MarginInUnit, Trade, difference_symbol, difference_unit, size_in_unit};
pub use premise::PremiseStatus;
pub use question::{Claim, Comparison, Direction, Link, Margin, Premise, PremiseCondition, Question, Rival, Side};
pub use test_level::TestLevel;
pub use verdict::{Bounds, Interval, Judgement, Sidedness, Strength, Verdict, judge, judge_bounds};
pub use words::{EQUALITY, NOT_REACHABLE, NOT_SEPARATED, mid_sentence};
