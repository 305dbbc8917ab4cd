//! Tables of means: every mean with its error, every difference with its own error, letters and comparisons with controls.

mod against_control;
mod by_df;
mod chebyshev;
mod letters;
mod pairs;
mod spread;
mod table;

pub use against_control::{ControlComparison, ControlTable, DunnettMethod};
pub use letters::letters_from;
pub use pairs::{PairDifference, holm};
pub use spread::{Lsd, Spread};
pub use table::{MeanCell, MeansTable};
pub(crate) use table::{listed_means, pairs_of, tables};
