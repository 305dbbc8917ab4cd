//! The entries of the journal.

use std::fmt;
use std::str::FromStr;

use jiff::civil::Date;
use rusqlite::Row;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use uuid::Uuid;

use crate::moment::moment_text;
use crate::{EntryPlace, Moment, column};

/// Makes an enum of fixed words: each variant has one word, the same in the database, in JSON and in messages.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$variant_doc:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
        pub enum $name {
            $($(#[$variant_doc])* #[serde(rename = $word)] $variant),+
        }

        impl $name {
            /// Every one of them.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// Its word in the database and in messages.
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.word())
            }
        }

        impl FromStr for $name {
            type Err = String;

            fn from_str(word: &str) -> Result<Self, Self::Err> {
                Self::ALL.iter().copied().find(|known| known.word() == word)
                    .ok_or_else(|| format!("'{word}' is not one of {}", [$($word),+].join(", ")))
            }
        }
    };
}

words! {
    /// What an entry tells.
    EntryKind {
        /// one value of one measure
        Observation = "observation",
        /// something done to plots
        Operation = "operation",
        /// a remark
        Note = "note",
        /// whether the condition that the question needs occurred
        Premise = "premise",
        /// seed or product taken from or put back to a lot
        LotMovement = "lot_movement",
        /// a decision about the trial, as leaving out a plot by a declared rule
        Decision = "decision",
        /// takes back one entry and puts nothing in its place
        Withdrawal = "withdrawal",
    }
}

words! {
    /// Whether there is a value, and if not, why. Zero is a value.
    Status {
        /// there is a value
        Value = "value",
        /// nobody looked, or it could not be seen
        NotSeen = "not_seen",
        /// it was there and is gone: sample spilt, plot eaten
        Lost = "lost",
        /// it has no meaning here
        NotApplicable = "not_applicable",
        /// it is still to come
        NotYet = "not_yet",
    }
}

words! {
    /// The way by which an entry came.
    SourceKind {
        /// typed on a page
        Screen = "screen",
        /// read from a spreadsheet
        Spreadsheet = "spreadsheet",
        /// read from a CSV file
        Csv = "csv",
        /// handed to a command
        Command = "command",
        /// from a phone in the field
        Phone = "phone",
        /// read from a logger's file
        Logger = "logger",
        /// invented for the demonstration
        Demo = "demo",
    }
}

/// Where an entry came from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Source {
    /// by which way
    pub kind: SourceKind,
    /// the file
    pub file: Option<String>,
    /// the sheet of the file
    pub sheet: Option<String>,
    /// the line of the file or sheet, from 1
    pub line: Option<u32>,
}

impl From<SourceKind> for Source {
    fn from(kind: SourceKind) -> Self {
        Self { kind, file: None, sheet: None, line: None }
    }
}

/// When something was observed: often only the day is known. Written as `2026-05-12` or as a moment in UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub enum Observed {
    /// on that day, by the calendar of the station
    On(Date),
    /// at that moment
    At(Moment),
}

impl fmt::Display for Observed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::On(day) => write!(f, "{day}"),
            Self::At(moment) => f.write_str(&moment_text(*moment)),
        }
    }
}

impl FromStr for Observed {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wrong = || format!("'{text}' is neither a day (2026-05-12) nor a moment (2026-05-12T14:30:00Z)");
        match text.contains(['T', 't', ' ']) {
            true => text.parse().map(Self::At).map_err(|_| wrong()),
            false => text.parse().map(Self::On).map_err(|_| wrong()),
        }
    }
}

impl From<Observed> for String {
    fn from(observed: Observed) -> Self {
        observed.to_string()
    }
}

impl TryFrom<String> for Observed {
    type Error = String;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse()
    }
}

/// An entry to be appended to the journal. Start from [`NewEntry::new`] and fill in what applies.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NewEntry {
    /// its identity, from [`new_id`](crate::new_id)
    pub id: Uuid,
    /// the trial
    pub trial_id: Uuid,
    /// what it tells
    pub kind: EntryKind,
    /// the version of the layout by which the plot is meant
    pub layout_version: Option<u32>,
    /// the plot
    pub plot_number: Option<u32>,
    /// the subsample of the plot, from 1
    pub subsample: Option<u32>,
    /// the measure
    pub measure: Option<String>,
    /// which time of the measure: an event, stage or date
    pub occasion: Option<String>,
    /// whether there is a value
    pub status: Status,
    /// the value, when it is a number
    pub number: Option<f64>,
    /// the value, when it is a text
    pub text: Option<String>,
    /// the unit of the number
    pub unit: Option<String>,
    /// the value, when it has parts
    pub body: Option<Value>,
    /// what the person added in words; allowed with an empty as well
    pub remark: Option<String>,
    /// when it was observed or done
    pub observed_at: Option<Observed>,
    /// when the station took it down
    pub recorded_at: Moment,
    /// by whom
    pub by: String,
    /// where it came from
    pub source: Source,
    /// the entry that this one corrects
    pub replaces: Option<Uuid>,
    /// why; needed for a correction
    pub reason: Option<String>,
}

impl NewEntry {
    /// An entry that is still without content, with status [`Status::Value`].
    pub fn new(id: Uuid, trial_id: Uuid, kind: EntryKind, recorded_at: Moment, by: &str, source: Source) -> Self {
        Self {
            id,
            trial_id,
            kind,
            layout_version: None,
            plot_number: None,
            subsample: None,
            measure: None,
            occasion: None,
            status: Status::Value,
            number: None,
            text: None,
            unit: None,
            body: None,
            remark: None,
            observed_at: None,
            recorded_at,
            by: by.to_owned(),
            source,
            replaces: None,
            reason: None,
        }
    }

    /// Takes back `earlier`, putting nothing in its place.
    pub fn withdrawal(id: Uuid, earlier: &Entry, recorded_at: Moment, by: &str, source: Source, reason: &str) -> Self {
        Self {
            status: Status::NotApplicable,
            layout_version: earlier.layout_version,
            plot_number: earlier.plot_number,
            subsample: earlier.subsample,
            measure: earlier.measure.clone(),
            occasion: earlier.occasion.clone(),
            replaces: Some(earlier.id),
            reason: Some(reason.to_owned()),
            ..Self::new(id, earlier.trial_id, EntryKind::Withdrawal, recorded_at, by, source)
        }
    }

    /// Where it stands in a batch, `position` from 1.
    pub(crate) fn place(&self, position: usize) -> Box<EntryPlace> {
        let Source { file, sheet, line, .. } = self.source.clone();
        Box::new(EntryPlace { position, file, sheet, line })
    }

    /// Why the entry alone, without looking at the journal, cannot be kept.
    pub(crate) fn problem(&self) -> Option<String> {
        let has_value = self.number.is_some() || self.text.is_some() || self.body.is_some();
        let blank = |text: &Option<String>| text.as_ref().is_none_or(|text| text.trim().is_empty());
        let problem = if self.by.trim().is_empty() {
            "it does not say by whom"
        } else if self.number.is_some_and(|number| !number.is_finite()) {
            "its number is not finite"
        } else if self.status == Status::Value && !has_value {
            "it has no value; an empty says which of the four it is: not seen, lost, not applicable, not yet"
        } else if self.status != Status::Value && (self.number.is_some() || self.text.is_some()) {
            return Some(format!("it is marked '{}' and has a value as well", self.status));
        } else if self.replaces.is_some() && blank(&self.reason) {
            "it corrects another entry and gives no reason"
        } else if self.replaces == Some(self.id) {
            "it corrects itself"
        } else if self.kind == EntryKind::Withdrawal && self.replaces.is_none() {
            "it takes back an entry and does not say which"
        } else if self.kind == EntryKind::Withdrawal && self.status != Status::NotApplicable {
            "it takes back an entry and has a value of its own"
        } else if self.measure.as_ref().is_some_and(|measure| measure.trim().is_empty()) {
            "its measure has no name"
        } else {
            return None;
        };
        Some(problem.to_owned())
    }
}

/// An entry of the journal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// the order in which the station accepted the entries, whatever the clocks said
    pub seq: i64,
    /// its identity
    pub id: Uuid,
    /// the trial
    pub trial_id: Uuid,
    /// what it tells
    pub kind: EntryKind,
    /// the version of the layout by which the plot is meant
    pub layout_version: Option<u32>,
    /// the plot
    pub plot_number: Option<u32>,
    /// the subsample of the plot, from 1
    pub subsample: Option<u32>,
    /// the measure
    pub measure: Option<String>,
    /// which time of the measure: an event, stage or date
    pub occasion: Option<String>,
    /// whether there is a value
    pub status: Status,
    /// the value, when it is a number
    pub number: Option<f64>,
    /// the value, when it is a text
    pub text: Option<String>,
    /// the unit of the number
    pub unit: Option<String>,
    /// the value, when it has parts
    pub body: Option<Value>,
    /// what the person added in words
    pub remark: Option<String>,
    /// when it was observed or done
    pub observed_at: Option<Observed>,
    /// when the station took it down
    pub recorded_at: Moment,
    /// by whom
    pub by: String,
    /// where it came from
    pub source: Source,
    /// the file intake that it came with
    pub intake_id: Option<Uuid>,
    /// the entry that this one corrects
    pub replaces: Option<Uuid>,
    /// why
    pub reason: Option<String>,
}

/// The columns that [`read_entry`] reads, in its order. By position, because looking 24 names up in every row took
/// most of the time of reading 100,000 entries.
pub(crate) const COLUMNS: &str = "seq, id, trial_id, kind, layout_version, plot_number, subsample, measure, occasion, \
     status, number, text, unit, body, remark, observed_at, recorded_at, by_whom, source_kind, source_file, \
     source_sheet, source_line, intake_id, replaces, reason";

pub(crate) fn read_entry(row: &Row<'_>) -> rusqlite::Result<Entry> {
    Ok(Entry {
        seq: row.get(0)?,
        id: column::id(row, 1)?,
        trial_id: column::id(row, 2)?,
        kind: column::parsed(row, 3)?,
        layout_version: row.get(4)?,
        plot_number: row.get(5)?,
        subsample: row.get(6)?,
        measure: row.get(7)?,
        occasion: row.get(8)?,
        status: column::parsed(row, 9)?,
        number: row.get(10)?,
        text: row.get(11)?,
        unit: row.get(12)?,
        body: column::maybe_parsed(row, 13)?,
        remark: row.get(14)?,
        observed_at: column::maybe_parsed(row, 15)?,
        recorded_at: column::moment(row, 16)?,
        by: row.get(17)?,
        source: Source { kind: column::parsed(row, 18)?, file: row.get(19)?, sheet: row.get(20)?, line: row.get(21)? },
        intake_id: column::maybe_id(row, 22)?,
        replaces: column::maybe_id(row, 23)?,
        reason: row.get(24)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_come_back() {
        assert!(EntryKind::ALL.iter().all(|kind| kind.word().parse() == Ok(*kind)));
        assert!(Status::ALL.iter().all(|status| status.word().parse() == Ok(*status)));
        assert!(SourceKind::ALL.iter().all(|kind| kind.word().parse() == Ok(*kind)));
        assert_eq!(
            "zero".parse::<Status>().unwrap_err(),
            "'zero' is not one of value, not_seen, lost, not_applicable, not_yet"
        );
    }

    #[test]
    fn a_day_stays_a_day() {
        for text in ["2026-05-12", "2026-05-12T14:30:00.000000000Z"] {
            assert_eq!(text.parse::<Observed>().unwrap().to_string(), text);
        }
        for text in ["12.5.2026", "2026-13-01", "", "2026-05-12T14:30"] {
            assert!(text.parse::<Observed>().is_err(), "{text}");
        }
    }
}
