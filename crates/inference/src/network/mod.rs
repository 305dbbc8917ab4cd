//! Networks of trials: one mixed model over many sites and years, by REML, for tens or hundreds of thousands of plots.
//!
//! The way of a fit: [`checks`] brings the observations into form; [`equations`] writes Henderson's equations so that every
//! precision enters linearly; [`elimination`] orders the unknowns and [`tree`] gathers them into dense fronts; [`factor`] and
//! [`inverse`] go up and down that tree; [`likelihood`] reads likelihood, slope and information off them; [`search`] takes the
//! steps from where [`moments`] begin; [`fit`] puts the result into words.

mod checks;
mod connected;
mod dense;
mod elimination;
mod equations;
mod factor;
mod fit;
mod grouping;
mod inverse;
mod likelihood;
mod moments;
mod nesting;
mod observed;
mod prepared;
mod room;
mod search;
mod tree;

pub use fit::{ClassMean, GroupingEffects, NetworkFit, Slope, fit_network};
pub use grouping::NetworkGrouping;
pub use observed::{Network, NetworkOptions};
