//! Notes on plots that a filled field sheet holds: they become notes of the season.

use super::table::{Cell, Table};
use crate::dossier::Dossier;
use crate::observation::NewNote;
use crate::{Remark, Weight};

/// One note as it stands in a sheet.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FoundNote {
    /// Line in the sheet.
    pub line: usize,
    /// Plot as written.
    pub plot: Cell,
    /// The day written on the sheet.
    pub day: Option<Cell>,
    /// The note.
    pub text: String,
}

/// The notes that can be kept, and a remark for each that names no plot of the trial.
pub(crate) fn check(file: &str, table: &Table, notes: &[FoundNote], trial: &Dossier) -> (Vec<NewNote>, Vec<Remark>) {
    let mut kept = Vec::new();
    let mut remarks = Vec::new();
    for note in notes {
        let plot = note.plot.text().parse().ok().filter(|&plot| trial.treatment_of_plot(plot).is_some());
        // A day that cannot be read is remarked on beside the values; the note is kept under the day of intake then.
        let on = note.day.as_ref().and_then(|day| match day {
            Cell::Day(day) => Some(*day),
            other => other.text().parse().ok(),
        });
        match plot {
            Some(plot) => {
                kept.push(NewNote { plot, text: note.text.clone(), on, sheet: table.sheet.clone(), line: note.line })
            }
            None => remarks.push(Remark {
                weight: Weight::Refuse,
                place: format!("{}, column note", table.place(file, note.line)),
                what: format!("the note “{}” stands beside no plot of this trial", note.text),
                try_this: "write it beside its plot, or clear the cell".to_owned(),
            }),
        }
    }
    (kept, remarks)
}
