//! Quantities and units, crops, seeding rates, packets, stands, harvest and money of field trials.
//!
//! Pure: takes values and returns values. It reads no file, no clock and no network, and draws no random number.
//! How each number is computed, with its source and its limits, is told in `docs/numbers/plot-arithmetic.md`.

pub mod amount;
pub mod calibration;
pub mod crop;
pub mod fertiliser;
pub mod harvest;
pub mod limits;
pub mod money;
pub mod packet;
pub mod plot_area;
pub mod relative_yield;
pub mod rounding;
pub mod seed;
pub mod stand;
pub mod unit;

pub use crop::{Crop, UnknownCrop};
pub use limits::{Level, Refused, Remark};
pub use unit::{Dimension, Quantity, Unit, UnitError};
