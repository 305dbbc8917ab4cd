//! What can go wrong when something is published.

use thiserror::Error;

/// A document, spreadsheet or data package could not be made.
#[derive(Debug, Error)]
pub enum PublishError {
    /// The text for a QR code is longer than a code can hold.
    #[error("label {sequence} (plot {plot}): {length} characters are too many for a QR code")]
    CodeTooLong {
        /// Place of the label in the seeding order.
        sequence: u32,
        /// Plot on the label.
        plot: String,
        /// Length of the text, bytes.
        length: usize,
    },
    /// A label size that no sheet can hold.
    #[error("label stock: {what}")]
    Stock {
        /// Which measure is wrong, with its value.
        what: String,
    },
    /// A table row has another number of cells than the table has columns.
    #[error("table `{table}`, row {row}: {found} cells, expected {expected}")]
    RowWidth {
        /// The table.
        table: String,
        /// Row, counted from 1.
        row: usize,
        /// Cells found.
        found: usize,
        /// Cells expected.
        expected: usize,
    },
    /// A descriptor that contradicts itself.
    #[error("data package: {what}")]
    Descriptor {
        /// What contradicts what.
        what: String,
    },
    /// The spreadsheet could not be written.
    #[error("spreadsheet `{sheet}`: {source}")]
    Spreadsheet {
        /// The sheet or event at hand.
        sheet: String,
        /// What the writer says.
        source: Box<rust_xlsxwriter::XlsxError>,
    },
    /// A sheet that cannot be laid out as asked.
    #[error("field sheet `{event}`: {what}")]
    Sheet {
        /// The event.
        event: String,
        /// What does not fit.
        what: String,
    },
    /// The document's data or template was refused; a fault of this program, not of the data.
    #[error("the {document} could not be set: {message}")]
    Template {
        /// The document.
        document: &'static str,
        /// What the typesetter says, with the place in the template.
        message: String,
    },
}

impl PublishError {
    /// What to try.
    pub fn help(&self) -> &'static str {
        match self {
            Self::CodeTooLong { .. } => "Use a shorter trial code; a code holds up to 300 characters.",
            Self::Stock { .. } => "Measure the label sheet with a ruler and check every size, in mm.",
            Self::RowWidth { .. } | Self::Descriptor { .. } | Self::Template { .. } => {
                "This is a fault in Guardrow; please report it with the trial's plan file."
            }
            Self::Spreadsheet { .. } => "Check that event and measure names are not unusually long.",
            Self::Sheet { .. } => "Split the event into several events with fewer measures or plots.",
        }
    }
}
