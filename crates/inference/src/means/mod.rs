//! Tables of means: every mean with its error, every difference with its own error, letters and comparisons with controls.

mod against_control;
mod letters;
mod table;

pub use against_control::{ControlComparison, ControlTable, DunnettMethod};
pub use letters::letters_from;
pub(crate) use table::tables;
pub use table::{Lsd, MeanCell, MeansTable, PairDifference, Spread};
