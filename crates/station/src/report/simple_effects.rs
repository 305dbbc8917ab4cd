//! Simple effects: what one factor does at each level of another, where it does not do the same at all.

use guardrow_inference::{Analysis, SimpleEffect};
use guardrow_publish::report::{Column, Row, RowKind, Table};

use super::numbers::{Decimals, df, f_ratio, p_value};

/// More differences than this are more than can be read; then only the tests are given.
const MOST_DIFFERENCES: usize = 12;

/// A table for each interaction of two factors that is there: by its test at the analysis' level, or because it keeps an average
/// from being told (judgement of the interaction gate).
///
/// - `factors`: names of the treatment factors; places and years have tables of their own
/// - `withheld`: factors whose average hides a decision
pub(crate) fn tables(
    analysis: &Analysis,
    factors: &[String],
    withheld: &[String],
    unit: &str,
    decimals: Decimals,
) -> Vec<Table> {
    let is_there = |term: &[String], p: f64| {
        term.len() == 2
            && term.iter().all(|name| factors.contains(name))
            && (p < analysis.level || term.iter().any(|name| withheld.contains(name)))
    };
    let terms = analysis.tests.iter().filter(|test| is_there(&test.term, test.p));
    terms.filter_map(|test| table(analysis, (&test.term[0], &test.term[1]), unit, decimals)).collect()
}

fn table(analysis: &Analysis, (one, other): (&str, &str), unit: &str, decimals: Decimals) -> Option<Table> {
    let columns = vec![
        Column::left("At"),
        Column::left("Difference"),
        Column::right("Estimate").with_unit(unit),
        Column::right(format!("{} % interval", df(100.0 * (1.0 - analysis.level)))).with_unit(unit),
        Column::right("F"),
        Column::right("df"),
        Column::right("p"),
    ];
    let mut table = Table::new(format!("Simple effects: {one} and {other}"), columns);
    for (of, within) in [(one, other), (other, one)] {
        let effects = analysis.simple_effects(&[of], &[within]).ok()?;
        table.push(Row::of(RowKind::Group, [format!("{of} at each level of {within}")]));
        let differences: usize = effects.iter().map(|effect| effect.pairs.len()).sum();
        let with_pairs = differences <= MOST_DIFFERENCES;
        for effect in &effects {
            for cells in if with_pairs { rows(effect, decimals) } else { vec![test_row(effect)] } {
                table.push(Row::plain(cells));
            }
        }
    }
    table.notes = vec![
        "F and p: whether the levels differ at all there. Intervals of differences are each for itself, unadjusted."
            .to_owned(),
    ];
    Some(table)
}

fn test_cells(effect: &SimpleEffect) -> Vec<String> {
    let Some(test) = effect.test else { return vec![String::new(); 3] };
    vec![f_ratio(test.f), format!("{}, {}", df(test.num_df), df(test.den_df)), p_value(test.p)]
}

fn place(effect: &SimpleEffect) -> String {
    effect.at.iter().map(|(_, level)| level.as_str()).collect::<Vec<_>>().join(", ")
}

fn test_row(effect: &SimpleEffect) -> Vec<String> {
    [vec![place(effect), "all levels".to_owned(), String::new(), String::new()], test_cells(effect)].concat()
}

/// The test of all levels first, then each difference; a single difference is its own test.
fn rows(effect: &SimpleEffect, decimals: Decimals) -> Vec<Vec<String>> {
    let at: Vec<&str> = effect.at.iter().map(|(_, level)| level.as_str()).collect();
    let differences: Vec<[String; 3]> = effect
        .pairs
        .iter()
        .map(|pair| {
            let level = |cell: usize| effect.cells[cell].levels.iter().find(|it| !at.contains(&it.as_str())).cloned();
            let label = |cell: usize| level(cell).unwrap_or_else(|| effect.cells[cell].label.clone());
            [
                format!("{} − {}", label(pair.a), label(pair.b)),
                decimals.difference(pair.estimate),
                decimals.interval(pair.lower, pair.upper),
            ]
        })
        .collect();
    if let [only] = differences.as_slice() {
        return vec![[vec![place(effect)], only.to_vec(), test_cells(effect)].concat()];
    }
    let further = differences.iter().map(|it| [vec![String::new()], it.to_vec(), vec![String::new(); 3]].concat());
    std::iter::once(test_row(effect)).chain(further).collect()
}
