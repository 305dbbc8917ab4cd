//! One response's results: tests by stratum, means, differences, diagnostics.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::table::{Column, Row, RowKind, Table};
use crate::chart::Figure;

/// How much a notice matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum NoticeLevel {
    /// Worth knowing.
    #[default]
    Remark,
    /// Changes how the numbers may be read: the warm accent.
    Warning,
    /// How a number came about, for whoever asks: after the charts, in small type.
    Technical,
}

/// Something the reader must know about the numbers beside it.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[schema(as = ReportNotice)]
pub struct Notice {
    /// How much it matters.
    pub level: NoticeLevel,
    /// The notice, a full sentence.
    pub text: String,
}

/// What the residuals show, short.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[schema(as = ReportLooking)]
pub struct Looking {
    /// Sentences.
    #[serde(default)]
    pub sentences: Vec<String>,
    /// Plots out of line; groups whose plots vary unequally.
    #[serde(default)]
    pub tables: Vec<Table>,
    /// The residuals on the ground; none where the places of plots are not known.
    #[serde(default)]
    pub map: Option<Figure>,
}

/// An analysis with other errors that stands beside the one as randomised.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[schema(as = ReportBeside)]
pub struct Beside {
    /// What it is of: `Models of the ground`.
    pub heading: String,
    /// What was tried, what was chosen and why.
    #[serde(default)]
    pub sentences: Vec<String>,
    /// The models, and their means beside those as randomised.
    #[serde(default)]
    pub tables: Vec<Table>,
    /// What the ground of each plot adds.
    #[serde(default)]
    pub map: Option<Figure>,
}

/// Everything the report says about one response.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct ResponseReport {
    /// The measure's key, the same as in the data package.
    pub key: String,
    /// The measure's name: `Grain yield at 14 % moisture`.
    pub measure: String,
    /// Unit as shown; empty for a count or score without one.
    #[serde(default)]
    pub unit: String,
    /// A claim rests on it: it is told in full on paper too.
    #[serde(default)]
    pub deciding: bool,
    /// Plots with a value.
    pub n: u32,
    /// Plots without a value that should have one.
    pub missing: u32,
    /// n and missing in words, with how the missing ones were treated.
    pub n_sentence: String,
    /// Tests by stratum, interaction rows first; make it with [`tests_table`].
    pub tests: Table,
    /// What the interaction gate says; empty for a trial with one factor.
    #[serde(default)]
    pub gate_sentence: String,
    /// Means tables in the order in which they may be read; make them with [`means_table`].
    pub means: Vec<Table>,
    /// SED, LSD (with level and df) and CV lines not already under a table.
    #[serde(default)]
    pub precision: Vec<String>,
    /// Charts of means, interaction and differences, in reading order.
    #[serde(default)]
    pub figures: Vec<Figure>,
    /// Residual and normal plots.
    #[serde(default)]
    pub diagnostics: Option<Figure>,
    /// Looking at the residuals: plots out of line, spread, the map.
    #[serde(default)]
    pub looking: Looking,
    /// Analyses with other errors, beside the one as randomised.
    #[serde(default)]
    pub beside: Vec<Beside>,
    /// Notices of the analysis; technical ones stand after the charts.
    #[serde(default)]
    pub notices: Vec<Notice>,
}

/// One row of the tests table.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TestRow {
    /// Stratum, `main plots`; rows of one stratum follow each other.
    pub stratum: String,
    /// Source of variation; for an error line `Residual`.
    pub source: String,
    /// Numerator df.
    pub df: String,
    /// Denominator df.
    pub den_df: String,
    /// Mean square; empty when the method gives none.
    pub mean_square: String,
    /// F ratio.
    pub f: String,
    /// p value, `0.031`, `< 0.001`.
    pub p: String,
}

/// Tests by stratum. A column that is empty in every row (mean squares under REML) is left out.
pub fn tests_table(caption: &str, rows: &[TestRow]) -> Table {
    let with_squares = rows.iter().any(|row| !row.mean_square.is_empty());
    let mut columns = vec![Column::left("Source"), Column::right("df"), Column::right("Error df")];
    if with_squares {
        columns.push(Column::right("Mean square"));
    }
    columns.extend([Column::right("F"), Column::right("p")]);
    let mut table = Table::new(caption, columns);
    let mut stratum = "";
    for row in rows {
        if row.stratum != stratum {
            stratum = &row.stratum;
            table.push(Row::of(RowKind::Group, [stratum]));
        }
        let mut cells = vec![row.source.as_str(), &row.df, &row.den_df];
        if with_squares {
            cells.push(&row.mean_square);
        }
        cells.extend([row.f.as_str(), &row.p]);
        table.push(Row::plain(cells));
    }
    table
}

/// One row of a means table.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct MeanRow {
    /// Treatment or level.
    pub label: String,
    /// Mean, rounded.
    pub mean: String,
    /// Standard error.
    pub se: String,
    /// Interval: `3.12 to 3.74`.
    pub interval: String,
    /// Number of plots.
    pub n: String,
    /// Letters, only for an unstructured set; empty otherwise.
    pub letters: String,
    /// An average that the interaction gate withholds: printed muted, never quoted.
    pub withheld: bool,
}

/// A means table. `interval` is the interval's name with its level, `95 % interval`; `notes` are the SED, LSD and CV
/// lines. The letters column appears only if some row has letters.
pub fn means_table(
    caption: &str,
    factor: &str,
    unit: &str,
    interval: &str,
    rows: &[MeanRow],
    notes: &[String],
) -> Table {
    let with_letters = rows.iter().any(|row| !row.letters.is_empty());
    let mut columns = vec![Column::left(factor), Column::right("Mean").with_unit(unit)];
    if with_letters {
        columns.push(Column::left("Letters"));
    }
    columns.extend([Column::right("SE").with_unit(unit), Column::right(interval).with_unit(unit), Column::right("n")]);
    let mut table = Table::new(caption, columns);
    for row in rows {
        let mut cells = vec![row.label.as_str(), &row.mean];
        if with_letters {
            cells.push(&row.letters);
        }
        cells.extend([row.se.as_str(), &row.interval, &row.n]);
        table.push(Row::of(if row.withheld { RowKind::Muted } else { RowKind::Plain }, cells));
    }
    table.notes = notes.to_vec();
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strata_open_groups_and_empty_columns_go() {
        let row = |stratum: &str, source: &str| TestRow {
            stratum: stratum.into(),
            source: source.into(),
            ..TestRow::default()
        };
        let table = tests_table("t", &[row("plots", "A × B"), row("plots", "B"), row("main plots", "A")]);
        assert_eq!(table.columns.len(), 5);
        let kinds: Vec<_> = table.rows.iter().map(|row| row.kind).collect();
        assert_eq!(kinds, [RowKind::Group, RowKind::Plain, RowKind::Plain, RowKind::Group, RowKind::Plain]);
    }

    #[test]
    fn letters_appear_only_when_given() {
        let row = MeanRow { label: "A".into(), mean: "3.1".into(), ..MeanRow::default() };
        assert_eq!(
            means_table("t", "Variety", "t/ha", "95 % interval", std::slice::from_ref(&row), &[]).columns.len(),
            5
        );
        let lettered = MeanRow { letters: "ab".into(), ..row };
        assert_eq!(means_table("t", "Variety", "t/ha", "95 % interval", &[lettered], &[]).columns.len(), 6);
    }
}
