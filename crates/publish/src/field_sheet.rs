//! The field sheet: one event's measures on every plot, in walking order, on paper or as a spreadsheet.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// One step of a scale.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct ScaleStep {
    /// What is written down: `3`.
    pub code: String,
    /// What it looks like: `a third of the plot leans`.
    #[serde(default)]
    pub meaning: String,
}

/// What may be written for a measure.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Entry {
    /// A number, within limits when they are given.
    Number {
        /// Smallest value that can be true.
        #[serde(default)]
        least: Option<f64>,
        /// Largest value that can be true.
        #[serde(default)]
        most: Option<f64>,
        /// Whole numbers only.
        #[serde(default)]
        whole: bool,
    },
    /// A step of a scale.
    Scale {
        /// The steps from one end to the other, both ends with their meaning.
        steps: Vec<ScaleStep>,
    },
    /// A day, written year-month-day.
    Date,
    /// Words.
    #[default]
    Text,
}

/// One measure of the sheet.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct SheetMeasure {
    /// The measure's key, for reading back.
    pub key: String,
    /// Name, short enough for a column: `Stand`.
    pub name: String,
    /// Unit; empty for a scale, a date or words.
    #[serde(default)]
    pub unit: String,
    /// How it is taken: frame, rows, distance from the plot's end.
    #[serde(default)]
    pub how: String,
    /// What may be written.
    pub entry: Entry,
}

/// One plot of the walk.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct SheetPlot {
    /// Plot number.
    pub plot: u32,
    /// Range.
    pub range: u32,
    /// Pass.
    pub pass: u32,
    /// Replicate.
    pub replicate: u32,
    /// Treatment's short label; none on a blind sheet.
    #[serde(default)]
    pub treatment: Option<String>,
}

/// A field sheet for one event.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct FieldSheet {
    /// The trial's code.
    pub trial_code: String,
    /// Title of the trial.
    pub title: String,
    /// Station.
    pub station: String,
    /// Site.
    pub site: String,
    /// Season.
    pub season: String,
    /// Version of the layout.
    pub layout_version: u32,
    /// The event: `Stand count`.
    pub event: String,
    /// When it is due, in words: `three weeks after seeding`. The date itself stays blank.
    #[serde(default)]
    pub due: String,
    /// Names this sheet when it is typed back; letters A-Z, digits and hyphens. Printed with its check character, see
    /// [`check_character`].
    pub sheet_id: String,
    /// Day the sheet was made, as it is to be printed.
    pub prepared_on: String,
    /// The measures, as columns; six or fewer fit on upright paper.
    pub measures: Vec<SheetMeasure>,
    /// Plots in walking order.
    pub plots: Vec<SheetPlot>,
    /// The walk in words: `Start at plot 101 ...`.
    #[serde(default)]
    pub walk: String,
    /// Instructions, one line each.
    #[serde(default)]
    pub instructions: Vec<String>,
}

/// One of the five kinds of empty: what is written on paper, what is chosen in a spreadsheet, and what it means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Empty {
    /// Mark written on paper; empty text for a box that stays blank.
    pub mark: &'static str,
    /// Word chosen in a spreadsheet; empty text for a cell that stays blank.
    pub word: &'static str,
    /// What it means.
    pub meaning: &'static str,
}

/// The five kinds of empty, in the order of the legend. Zero is a value; a blank is nothing but "not yet".
pub const EMPTIES: [Empty; 5] = [
    Empty { mark: "0", word: "0", meaning: "looked, and there was none" },
    Empty { mark: "NS", word: "not seen", meaning: "nobody looked, or could not" },
    Empty { mark: "LOST", word: "lost", meaning: "taken but gone, or the plot is gone" },
    Empty { mark: "NA", word: "not applicable", meaning: "cannot be taken on this plot" },
    Empty { mark: "", word: "not yet", meaning: "still to come" },
];

/// The check character of a sheet id: one digit or capital letter that changes when one character is mistyped or two
/// neighbours change places. Hyphens and spaces do not count and small letters count as capitals.
///
/// Returns none if the id holds any other character, or nothing to check.
///
/// # Source
/// The hybrid system MOD 37,36 of ISO/IEC 7064; the steps and the check value below are from memory.
pub fn check_character(sheet_id: &str) -> Option<char> {
    let mut product = 36;
    let mut counted = 0;
    for character in sheet_id.chars().filter(|character| !matches!(character, '-' | ' ')) {
        let sum = (product + character.to_digit(36)?) % 36;
        product = (if sum == 0 { 36 } else { sum }) * 2 % 37;
        counted += 1;
    }
    let check = char::from_digit((37 - product) % 36, 36)?;
    (counted > 0).then(|| check.to_ascii_uppercase())
}

impl FieldSheet {
    /// The sheet id as it is printed and typed back, with its check character: `K7-20/B`.
    /// An id that cannot be checked is printed as it is.
    pub fn printed_id(&self) -> String {
        match check_character(&self.sheet_id) {
            Some(check) => format!("{}/{check}", self.sheet_id),
            None => self.sheet_id.clone(),
        }
    }
}

/// Takes a sheet id as typed back from paper apart and checks it.
///
/// Returns the id without its check character, or none when the check character is missing or does not fit: then some
/// character was mistyped.
pub fn read_printed_id(typed: &str) -> Option<String> {
    let (id, check) = typed.trim().rsplit_once('/')?;
    let expected = check_character(id)?;
    let mut given = check.trim().chars();
    (given.next().map(|given| given.to_ascii_uppercase()) == Some(expected) && given.next().is_none())
        .then(|| id.trim().to_ascii_uppercase())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn check_character_of_a_known_identifier() {
        // Example release identifier of the GRid standard, which uses MOD 37,36 (value from memory).
        assert_eq!(check_character("A12425GABC1234002"), Some('M'));
    }

    #[test]
    fn every_single_slip_and_every_swap_is_caught() {
        let id: Vec<char> = "K7Q20B9".chars().collect();
        let check = check_character("K7Q20B9").expect("all characters are digits or letters");
        for place in 0..id.len() {
            for other in ('0'..='9').chain('A'..='Z').filter(|&other| other != id[place]) {
                let mut wrong = id.clone();
                wrong[place] = other;
                assert_ne!(check_character(&String::from_iter(wrong)), Some(check));
            }
            if place + 1 < id.len() && id[place] != id[place + 1] {
                let mut swapped = id.clone();
                swapped.swap(place, place + 1);
                assert_ne!(check_character(&String::from_iter(swapped)), Some(check));
            }
        }
    }

    #[test]
    fn a_typed_id_comes_back_or_is_refused() {
        let sheet = FieldSheet { sheet_id: "L3104-2-STAND".into(), ..FieldSheet::default() };
        assert_eq!(read_printed_id(&sheet.printed_id()), Some("L3104-2-STAND".to_string()));
        assert_eq!(read_printed_id(&sheet.printed_id().to_lowercase()), Some("L3104-2-STAND".to_string()));
        assert_eq!(read_printed_id(&sheet.printed_id().replace("31", "13")), None);
        assert_eq!(read_printed_id("L3104-2-STAND"), None);
        assert_eq!(check_character("trial ü"), None);
        assert_eq!(check_character("--"), None);
    }
}
