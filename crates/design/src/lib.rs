//! Factors, treatments, arrangements, randomisation and layout on the ground.
//!
//! Pure: takes values and returns values. The only randomness is a generator that the caller seeds.

mod arrangement;
mod block_structure;
mod error;
mod factor;
mod limits;
mod treatment;

pub use arrangement::{Arrangement, BLOCK, MAIN_PLOT, PLOT};
pub use block_structure::{BlockStructure, Stratum};
pub use error::DesignError;
pub use factor::{Factor, Level, Scale};
pub use limits::{MOST_PLOTS, MOST_TREATMENTS};
pub use treatment::{Control, Treatment, TreatmentStructure};
