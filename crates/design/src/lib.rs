//! Factors, treatments, arrangements, randomisation and layout on the ground.
//!
//! Pure: takes values and returns values. The only randomness is a generator that the caller seeds.

mod arrangement;
mod block_structure;
mod factor;
mod treatment;

pub use arrangement::Arrangement;
pub use block_structure::{BlockStructure, Stratum};
pub use factor::{Factor, Level, Scale};
pub use treatment::{Control, Treatment, TreatmentStructure};
