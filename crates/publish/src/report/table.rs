//! Tables as they are read: headings, alignment, rows of finished text.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// How the cells of a column are set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Align {
    /// Words.
    #[default]
    Left,
    /// Numbers: tabular figures, flush right.
    Right,
    /// Marks, letters and codes.
    Centre,
}

/// The heading of one column.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct Column {
    /// What stands in the column, without its unit: `Yield`.
    pub heading: String,
    /// The unit, shown under the heading in lighter type; empty when there is none.
    #[serde(default)]
    pub unit: String,
    /// How the cells are set.
    #[serde(default)]
    pub align: Align,
}

/// What a row is, so that a page and a print can mark it alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum RowKind {
    /// An ordinary row.
    #[default]
    Plain,
    /// A row that opens a group (a stratum, a replicate); its first cell is read across.
    Group,
    /// A total or a mean over the rows above it.
    Total,
    /// A row that needs a decision or must be read with care: the warm accent.
    Attention,
    /// A row that stands for completeness only (an average that must not be quoted).
    Muted,
}

/// One row; `cells` has as many entries as the table has columns.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct Row {
    /// Finished text, one entry per column; empty text leaves the cell empty.
    pub cells: Vec<String>,
    /// What the row is.
    #[serde(default)]
    pub kind: RowKind,
}

/// A table of finished text.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct Table {
    /// What the table shows, in one line; read by screen readers and printed above it. May be empty.
    #[serde(default)]
    pub caption: String,
    /// The columns, left to right.
    pub columns: Vec<Column>,
    /// The rows, top to bottom.
    pub rows: Vec<Row>,
    /// Lines under the table: levels, degrees of freedom, what a mark means.
    #[serde(default)]
    pub notes: Vec<String>,
}

impl Column {
    /// A column of words.
    pub fn left(heading: impl Into<String>) -> Self {
        Self { heading: heading.into(), unit: String::new(), align: Align::Left }
    }

    /// A column of numbers.
    pub fn right(heading: impl Into<String>) -> Self {
        Self { align: Align::Right, ..Self::left(heading) }
    }

    /// A column of marks or codes.
    pub fn centre(heading: impl Into<String>) -> Self {
        Self { align: Align::Centre, ..Self::left(heading) }
    }

    /// The same column with a unit under its heading.
    #[must_use]
    pub fn with_unit(mut self, unit: impl Into<String>) -> Self {
        self.unit = unit.into();
        self
    }
}

impl Row {
    /// A row of `kind` from anything that turns into text.
    pub fn of<T: Into<String>>(kind: RowKind, cells: impl IntoIterator<Item = T>) -> Self {
        Self { cells: cells.into_iter().map(Into::into).collect(), kind }
    }

    /// An ordinary row.
    pub fn plain<T: Into<String>>(cells: impl IntoIterator<Item = T>) -> Self {
        Self::of(RowKind::Plain, cells)
    }
}

impl Table {
    /// An empty table with its columns.
    pub fn new(caption: impl Into<String>, columns: Vec<Column>) -> Self {
        Self { caption: caption.into(), columns, ..Self::default() }
    }

    /// Adds a row. A short row is filled with empty cells and a long one cut, so that every row fits the columns.
    pub fn push(&mut self, mut row: Row) {
        row.cells.resize(self.columns.len(), String::new());
        self.rows.push(row);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_is_fitted_to_the_columns() {
        let mut table = Table::new("t", vec![Column::left("a"), Column::right("b")]);
        table.push(Row::plain(["1"]));
        table.push(Row::plain(["1", "2", "3"]));
        assert_eq!(table.rows[0].cells, ["1", ""]);
        assert_eq!(table.rows[1].cells, ["1", "2"]);
    }
}
