//! Quantities that people mix up, each a type of its own that holds only legal values.
//!
//! A value of these types has passed the table of limits ([`crate::limits`]); calculations need not check it again.

use crate::limits::Refused;
use crate::unit::UnitError;

/// Why a quantity that a person gave cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AmountError {
    /// Its unit does not fit or is not known.
    #[error(transparent)]
    Unit(#[from] UnitError),
    /// Its value is outside what is legal.
    #[error(transparent)]
    Refused(#[from] Refused),
}

impl AmountError {
    /// What to try, in one sentence.
    #[must_use]
    pub fn help(&self) -> String {
        match self {
            Self::Unit(error) => error.help(),
            Self::Refused(refused) => refused.help(),
        }
    }
}

/// Makes a type for the legal values of one field: a named constructor, a named getter, and a way in from a
/// [`Quantity`].
///
/// [`Quantity`]: crate::unit::Quantity
macro_rules! amount {
    ($(#[$doc:meta])* $name:ident, $field:ident, $from:ident, $get:ident, $words:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            #[doc = concat!("From a number in ", $words, ".")]
            ///
            /// # Errors
            /// [`Refused`](crate::limits::Refused) when the table of limits refuses the value.
            pub fn $from(value: f64) -> Result<Self, crate::limits::Refused> {
                crate::limits::accept(crate::limits::Field::$field, value).map(Self)
            }

            #[doc = concat!("The value in ", $words, ".")]
            #[must_use]
            pub const fn $get(self) -> f64 {
                self.0
            }

            /// From a quantity in any fitting unit.
            ///
            /// # Errors
            /// [`AmountError`](crate::amount::AmountError) when the unit does not fit or the value is refused.
            pub fn of(quantity: crate::unit::Quantity) -> Result<Self, crate::amount::AmountError> {
                let value = quantity.to(crate::limits::Field::$field.unit())?;
                Ok(Self::$from(value)?)
            }

            /// What is doubtful about the value, by the table of limits.
            #[must_use]
            pub fn remarks(self) -> Vec<crate::limits::Remark> {
                crate::limits::check(crate::limits::Field::$field, self.0)
            }
        }
    };
}
pub(crate) use amount;

amount! {
    /// Distance between neighbouring crop rows. Stored as entered and converted exactly: 8 in is 20.32 cm, not 20 cm.
    RowSpacing, RowSpacing, metres, in_metres, "metres"
}

amount! {
    /// A length along the plot or the row.
    PlotLength, PlotLength, metres, in_metres, "metres"
}

amount! {
    /// A width across the plot.
    PlotWidth, PlotWidth, metres, in_metres, "metres"
}

amount! {
    /// A length at a plot's end that may be zero: trim, alley share, overrun.
    EndLength, EndLength, metres, in_metres, "metres"
}

amount! {
    /// An area of ground above zero.
    GroundArea, YieldArea, square_metres, in_square_metres, "square metres"
}

impl RowSpacing {
    /// From centimetres.
    ///
    /// # Errors
    /// [`Refused`] when not above zero.
    pub fn centimetres(value: f64) -> Result<Self, Refused> {
        Self::metres(value / 100.0)
    }

    /// From inches of exactly 2.54 cm.
    ///
    /// # Errors
    /// [`Refused`] when not above zero.
    pub fn inches(value: f64) -> Result<Self, Refused> {
        Self::metres(value * 0.0254)
    }
}

impl EndLength {
    /// No length at all.
    pub const NONE: Self = Self(0.0);
}

impl PlotWidth {
    /// The width that rows stand for: `rows x row spacing`.
    ///
    /// Half a row space belongs to each side of an outside row, so eight rows at 19 cm are 1.52 m, not seven spaces.
    ///
    /// # Errors
    /// [`Refused`] when there is no row.
    /// # Source
    /// Common practice, no source (handbook of plot arithmetic, 4.1).
    pub fn of_rows(rows: u32, spacing: RowSpacing) -> Result<Self, Refused> {
        let rows = crate::limits::accept(crate::limits::Field::Rows, f64::from(rows))?;
        Self::metres(rows * spacing.in_metres())
    }
}

impl GroundArea {
    /// Area of a width and a length.
    #[must_use]
    pub fn of_plot(width: PlotWidth, length: PlotLength) -> Self {
        Self(width.in_metres() * length.in_metres())
    }
}
