//! What can be wrong with a unit or a number that a person wrote.

use super::Unit;

/// Why a unit or a quantity could not be read or converted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum UnitError {
    /// The spelling is in no row of the table.
    #[error("\"{text}\" is not a unit that Guardrow knows")]
    Unknown {
        /// What was written.
        text: String,
        /// Symbol of the nearest unit, when one is near.
        suggestion: Option<&'static str>,
    },
    /// The spelling has more than one meaning.
    #[error("\"{text}\" can mean {}", choices.join(" or "))]
    Ambiguous {
        /// What was written.
        text: String,
        /// The symbols it could mean.
        choices: Vec<&'static str>,
    },
    /// A number came without a unit.
    #[error("\"{text}\" has no unit")]
    MissingUnit {
        /// What was written.
        text: String,
    },
    /// The number part is no number.
    #[error(transparent)]
    Number(#[from] NumberError),
    /// The two units measure different things.
    #[error("{} is {}, {} is {}: one cannot be turned into the other", from.symbol(), describe(*from), to.symbol(), describe(*to))]
    Incompatible {
        /// Unit of the value.
        from: Unit,
        /// Unit that was asked for.
        to: Unit,
    },
    /// Bushels without a crop.
    #[error("{} to {} needs a crop: a bushel is a different weight for each crop", from.symbol(), to.symbol())]
    CropNeeded {
        /// Unit of the value.
        from: Unit,
        /// Unit that was asked for.
        to: Unit,
    },
    /// The crop has no bushel weight on file.
    #[error("no bushel weight is on file for {crop}")]
    NoBushel {
        /// The crop's name.
        crop: String,
    },
}

/// The start of a text, long enough to be recognised in a message.
pub(crate) fn clipped(text: &str) -> String {
    const LONGEST: usize = 60;
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}...", &text[..end]),
        None => text.to_owned(),
    }
}

impl UnitError {
    /// What to try, in one sentence.
    #[must_use]
    pub fn help(&self) -> String {
        match self {
            Self::Unknown { suggestion: Some(near), .. } => format!("Did you mean {near}?"),
            Self::Unknown { suggestion: None, .. } => {
                "Write a unit from the list of units, for example kg/ha, bu/ac, plants/m2, cm, % or degC.".to_owned()
            }
            Self::Ambiguous { choices, .. } => format!("Write {}.", choices.join(" or ")),
            Self::MissingUnit { text } if text.is_empty() => {
                "Write a number and its unit, such as 250 kg/ha.".to_owned()
            }
            Self::MissingUnit { text } => format!("Write the unit after the number, such as {text} kg/ha or {text} %."),
            Self::Number(error) => error.help(),
            Self::Incompatible { from, .. } => {
                format!("Choose a unit of the same kind: {}.", same_kind(*from))
            }
            Self::CropNeeded { .. } => "Name the crop, or use a unit of weight such as kg/ha or lb/ac.".to_owned(),
            Self::NoBushel { .. } => "Use kg/ha, t/ha or lb/ac for this crop.".to_owned(),
        }
    }
}

fn describe(unit: Unit) -> String {
    let words = unit.dimension().words();
    match unit.counted() {
        Some(counted) => format!("{words} ({counted})"),
        None => words.to_owned(),
    }
}

fn same_kind(unit: Unit) -> String {
    let counted = unit.counted();
    let like = Unit::of(unit.dimension()).filter(|other| other.counted().is_none() || other.counted() == counted);
    like.map(Unit::symbol).take(6).collect::<Vec<_>>().join(", ")
}

/// Why a text is not a number.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NumberError {
    /// No digits where a number was expected.
    #[error("\"{text}\" is not a number")]
    NotANumber {
        /// What was written.
        text: String,
    },
    /// A comma where the decimal mark is a point.
    #[error("\"{text}\" holds a comma, which can mean a decimal or a thousand")]
    Comma {
        /// What was written.
        text: String,
    },
    /// A point where the decimal mark is a comma.
    #[error("\"{text}\" holds a point, where numbers are written with a decimal comma")]
    Point {
        /// What was written.
        text: String,
    },
    /// A date that is in no calendar.
    #[error("\"{text}\" is not a day of the calendar")]
    NotADate {
        /// What was written.
        text: String,
    },
    /// Too large to be held.
    #[error("\"{text}\" is too large")]
    TooLarge {
        /// What was written.
        text: String,
    },
}

impl NumberError {
    /// What to try, in one sentence.
    #[must_use]
    pub fn help(&self) -> String {
        match self {
            Self::NotANumber { .. } => "Write digits, such as 12.5; leave the cell empty when there is no value.",
            Self::Comma { .. } => {
                "Write 1234.5, without marks for thousands, or choose the decimal comma for this file."
            }
            Self::Point { .. } => {
                "Write 1234,5, without marks for thousands, or choose the decimal point for this file."
            }
            Self::NotADate { .. } => "Write year, month and day, such as 2026-05-14.",
            Self::TooLarge { .. } => "Check the number of digits.",
        }
        .to_owned()
    }
}
