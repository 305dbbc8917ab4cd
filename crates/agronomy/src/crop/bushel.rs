//! The trade bushel: a number of pounds per crop.

use serde::{Deserialize, Serialize};

use crate::limits::Refused;
use crate::unit::Unit;

/// The country whose bushel weights apply.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Trade {
    /// Canadian trade weights.
    #[default]
    Canada,
    /// United States trade weights.
    UnitedStates,
}

/// The weight of one trade bushel of a crop. It is fixed per crop, whatever the test weight.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Bushel(f64);

impl Bushel {
    /// A bushel of so many pounds.
    ///
    /// # Errors
    /// [`Refused`] when not above zero.
    pub fn pounds(pounds: f64) -> Result<Self, Refused> {
        if pounds > 0.0 && pounds.is_finite() {
            Ok(Self(pounds))
        } else {
            Err(Refused::new("bushel weight", pounds, Unit::Pound, "above 0"))
        }
    }

    /// Pounds in the bushel.
    #[must_use]
    pub const fn in_pounds(self) -> f64 {
        self.0
    }

    /// Bushels in a tonne: `2204.62262184878 / W`.
    ///
    /// # Source
    /// Alberta Agriculture, bushel and tonne converter (2002), after the Canada Grains Council's 1999 handbook.
    #[must_use]
    pub fn per_tonne(self) -> f64 {
        1000.0 / (self.0 * 0.45359237)
    }
}
