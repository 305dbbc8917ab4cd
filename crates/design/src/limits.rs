//! Sizes beyond which a plan is taken for a slip of the keyboard.
//!
//! Not a rule of the trade: far above any small-plot trial, and low enough that a mistyped count is refused at once
//! instead of filling the memory.

/// The most treatments in one trial.
pub const MOST_TREATMENTS: usize = 5_000;

/// The most plots in one trial.
pub const MOST_PLOTS: usize = 50_000;
