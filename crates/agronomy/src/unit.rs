//! The one unit table, quantities that carry their unit, and how both are read and shown.
//!
//! Every unit that a station can choose is a row of one table ([`Unit`]). A value without a unit is refused,
//! never guessed ([`UnitError::MissingUnit`]); a spelling with two meanings is asked about ([`UnitError::Ambiguous`]).

mod civil_day;
mod currency;
mod dimension;
mod error;
mod number;
mod quantity;
mod spelling;
mod table;

pub use civil_day::{civil_date, day_number};
pub use dimension::Dimension;
pub(crate) use error::clipped;
pub use error::{NumberError, UnitError};
pub use number::{DecimalMark, parse_number};
pub use quantity::Quantity;
pub use table::Unit;
