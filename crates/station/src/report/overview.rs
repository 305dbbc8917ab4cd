//! The measures that no claim rests on, side by side: treatments down, measures across.

use guardrow_inference::MeansTable;
use guardrow_publish::report::{Column, Row, RowKind, Section, Table};

use super::numbers::{Decimals, p_value};
use crate::analysed::{Analysed, Leading};

/// Measures that stand side by side in one table of upright paper.
const ACROSS: usize = 8;

/// The section with all measures that are not told in full; nothing when there are none.
pub(crate) fn overview(others: &[&Analysed]) -> Option<Section> {
    if others.is_empty() {
        return None;
    }
    let parts: Vec<&[&Analysed]> = others.chunks(ACROSS).collect();
    Some(Section {
        heading: "The other measures".to_owned(),
        paragraphs: vec![
            "Means, the largest standard error of a difference, and p of each term; in full on the page of findings."
                .to_owned(),
        ],
        tables: parts.into_iter().map(table).collect(),
    })
}

fn table(measures: &[&Analysed]) -> Table {
    let mut columns = vec![Column::left("Treatment")];
    columns.extend(measures.iter().map(|measure| Column::right(measure.name.clone()).with_unit(measure.unit.symbol())));
    let mut table = Table::new("Means", columns);
    let told: Vec<Told<'_>> = measures.iter().map(|measure| Told::of(measure)).collect();
    let Some(labels) = told.iter().find_map(Told::labels) else { return why_none(measures, table) };
    for label in &labels {
        table.push(Row::plain(line(label.clone(), &told, |told| told.mean(label))));
    }
    table.push(Row::of(RowKind::Total, line("SED (largest)".to_owned(), &told, |told| told.sed())));
    for term in terms(&told) {
        table.push(Row::plain(line(format!("p, {term}"), &told, |told| told.p(&term))));
    }
    why_none(measures, table)
}

fn line(head: String, told: &[Told<'_>], cell: impl Fn(&Told<'_>) -> String) -> Vec<String> {
    std::iter::once(head).chain(told.iter().map(cell)).collect()
}

/// Terms of the first analysis, interactions first.
fn terms(told: &[Told<'_>]) -> Vec<String> {
    let leading = told.iter().find_map(|told| told.leading);
    leading.map(|leading| leading.tests.iter().rev().map(|test| test.label.clone()).collect()).unwrap_or_default()
}

fn why_none(measures: &[&Analysed], mut table: Table) -> Table {
    for measure in measures {
        table.notes.extend(measure.why_not().map(|why_not| format!("{}: {why_not}", measure.name)));
    }
    table
}

/// One measure's column.
struct Told<'a> {
    leading: Option<Leading<'a>>,
    table: Option<&'a MeansTable>,
    decimals: Decimals,
}

impl Told<'_> {
    fn of(measure: &Analysed) -> Told<'_> {
        let leading = measure.leading();
        let table =
            leading.and_then(|leading| leading.tables.iter().max_by_key(|table| (table.cells.len(), table.term.len())));
        // The same digits as in the measure's own tables.
        let decimals = Decimals::earned(leading.and_then(|leading| super::smallest_se(leading.tables)), measure.unit);
        Told { leading, table, decimals }
    }

    fn labels(&self) -> Option<Vec<String>> {
        self.table.map(|table| table.cells.iter().map(|cell| cell.label.clone()).collect())
    }

    fn mean(&self, label: &str) -> String {
        let cell = self.table.and_then(|table| table.cells.iter().find(|cell| cell.label == label));
        cell.map(|cell| self.decimals.value(cell.mean)).unwrap_or_default()
    }

    fn sed(&self) -> String {
        let table = self.table.filter(|table| !table.pairs.is_empty());
        table.map(|table| self.decimals.finer().value(table.sed.max)).unwrap_or_default()
    }

    fn p(&self, term: &str) -> String {
        let test = self.leading.and_then(|leading| leading.tests.iter().find(|test| test.label == term));
        test.map(|test| p_value(test.p)).unwrap_or_default()
    }
}
