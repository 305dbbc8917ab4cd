//! Tests and means of one response as tables of finished text.

use guardrow_inference::{Analysis, Lead, MeansTable, RESIDUAL, TermTest};
use guardrow_publish::report::{MeanRow, Row, RowKind, Table, TestRow, means_table, tests_table};

use super::numbers::{Decimals, df, f_ratio, four_digits, p_value};
use crate::analysed::{Analysed, Leading};

/// Tests by stratum, the innermost stratum first and interactions before main effects; those of counts before those of the same
/// values as plain numbers.
pub(crate) fn tests(measured: &Analysed) -> Table {
    let plain = measured.outcome.as_ref().ok();
    let mut rows = match (measured.as_discrete(), plain) {
        (Some(discrete), _) => term_rows(&discrete.tests, "Restricted likelihood, Wald"),
        (None, Some(analysis)) => by_layout(analysis),
        (None, None) => Vec::new(),
    };
    if let (Some(_), Some(analysis)) = (measured.as_discrete(), plain) {
        let beside = by_layout(analysis).into_iter().filter(|row| !row.f.is_empty());
        rows.extend(beside.map(|row| TestRow {
            stratum: "Beside it: the values as plain numbers".to_owned(),
            mean_square: String::new(),
            ..row
        }));
    }
    if let Some(Ok(transformed)) = &measured.transformed {
        let group = format!("Beside it: {}", transformed.transform.words());
        let own = by_layout(&transformed.analysis).into_iter().filter(|row| !row.f.is_empty());
        rows.extend(own.map(|row| TestRow { stratum: group.clone(), mean_square: String::new(), ..row }));
    }
    tests_table(&format!("Tests for {}", guardrow_findings::mid_sentence(&measured.name)), &rows)
}

fn by_layout(analysis: &Analysis) -> Vec<TestRow> {
    let mut rows = match (&analysis.lead, &analysis.strata) {
        (Lead::Strata, Some(table)) => strata_rows(table),
        _ => term_rows(&analysis.tests, "REML, Kenward-Roger"),
    };
    if analysis.lead == Lead::Strata
        && !analysis.other_tests.is_empty()
        && analysis.difference_between_methods.is_some()
    {
        rows.extend(term_rows(&analysis.other_tests, "Beside it: REML, Kenward-Roger"));
    }
    rows
}

fn strata_rows(table: &guardrow_inference::StrataTable) -> Vec<TestRow> {
    let mut rows = Vec::new();
    for stratum in table.strata.iter().rev() {
        let error = stratum.rows.iter().find(|row| row.source == RESIDUAL);
        let mut sources: Vec<_> = stratum.rows.iter().filter(|row| row.source != RESIDUAL).collect();
        // Interactions first: a main effect is read only after them.
        sources.reverse();
        for row in sources.into_iter().chain(error) {
            let is_error = row.source == RESIDUAL;
            rows.push(TestRow {
                stratum: format!("Between {}s", stratum.stratum),
                source: if is_error { "error".to_owned() } else { row.source.clone() },
                df: df(row.df),
                den_df: if is_error { String::new() } else { error.map(|error| df(error.df)).unwrap_or_default() },
                mean_square: four_digits(row.ms),
                f: row.f.map(f_ratio).unwrap_or_default(),
                p: row.p.map(p_value).unwrap_or_default(),
            });
        }
    }
    rows
}

fn term_rows(tests: &[TermTest], group: &str) -> Vec<TestRow> {
    tests
        .iter()
        .rev()
        .map(|test| TestRow {
            stratum: group.to_owned(),
            source: test.label.clone(),
            df: df(test.num_df),
            den_df: df(test.den_df),
            mean_square: String::new(),
            f: f_ratio(test.f),
            p: p_value(test.p),
        })
        .collect()
}

/// Means tables in the order in which they may be read: interactions before main effects.
///
/// - `withheld`: names of factors whose averages the interaction gate keeps from standing alone
pub(crate) fn means(leading: Leading<'_>, unit: &str, decimals: Decimals, withheld: &[String]) -> Vec<Table> {
    let mut tables: Vec<&MeansTable> = leading.tables.iter().collect();
    tables.sort_by_key(|table| std::cmp::Reverse(table.term.len()));
    tables.into_iter().map(|table| one_means_table(table, leading.level, unit, decimals, withheld)).collect()
}

fn one_means_table(table: &MeansTable, level: f64, unit: &str, decimals: Decimals, withheld: &[String]) -> Table {
    let is_withheld = table.term.len() == 1 && withheld.contains(&table.term[0]);
    let rows: Vec<MeanRow> = table
        .cells
        .iter()
        .enumerate()
        .map(|(index, cell)| MeanRow {
            label: cell.label.clone(),
            mean: decimals.value(cell.mean),
            se: cell.se.map(|se| decimals.finer().value(se)).unwrap_or_default(),
            interval: cell.lower.zip(cell.upper).map(|(low, high)| decimals.interval(low, high)).unwrap_or_default(),
            n: cell.n.to_string(),
            letters: table.letters.as_ref().map(|letters| letters[index].clone()).unwrap_or_default(),
            withheld: is_withheld,
        })
        .collect();
    let mut notes = precision_notes(table, decimals);
    if is_withheld {
        notes.insert(
            0,
            "These averages hide a decision and may not be told alone; read the means of the combinations.".to_owned(),
        );
    }
    let mut made = means_table(
        &format!("Means: {}", table.label),
        &table.label,
        unit,
        &format!("{} % interval", super::numbers::df(100.0 * (1.0 - level))),
        &rows,
        &notes,
    );
    against_control(table, decimals, &mut made);
    made
}

fn precision_notes(table: &MeansTable, decimals: Decimals) -> Vec<String> {
    let finer = decimals.finer();
    let spread = |min: f64, mean: f64, max: f64| {
        let (low, high) = (finer.value(min), finer.value(max));
        if low == high { low } else { format!("{low} to {high} (mean {})", finer.value(mean)) }
    };
    let mut notes = Vec::new();
    if !table.pairs.is_empty() {
        let dfs: Vec<f64> = table.pairs.iter().map(|pair| pair.df).collect();
        let (low, high) = dfs.iter().fold((f64::INFINITY, 0.0_f64), |(low, high), &df| (low.min(df), high.max(df)));
        let dfs = if df(low) == df(high) { df(low) } else { format!("{} to {}", df(low), df(high)) };
        notes.push(format!(
            "SED {}; LSD at {} % {} ({dfs} df).",
            spread(table.sed.min, table.sed.mean, table.sed.max),
            df(100.0 * table.lsd.level),
            spread(table.lsd.min, table.lsd.mean, table.lsd.max),
        ));
    }
    if table.letters.is_some() {
        notes.push(format!(
            "Means that share a letter do not differ at {} % (Tukey-Kramer).",
            df(100.0 * table.lsd.level)
        ));
    } else if let Some(why_not) = &table.letters_why_not {
        notes.push(why_not.clone());
    }
    notes
}

/// Differences to a control stand under the means, each with its own p by Dunnett.
fn against_control(table: &MeansTable, decimals: Decimals, made: &mut Table) {
    for control in &table.against_control {
        made.push(Row::of(RowKind::Group, [format!("Difference from {} (p by Dunnett)", control.control)]));
        for comparison in &control.comparisons {
            let cells = comparison_cells(comparison, decimals, made.columns.len());
            made.push(Row::plain(cells));
        }
    }
}

fn comparison_cells(
    comparison: &guardrow_inference::ControlComparison,
    decimals: Decimals,
    columns: usize,
) -> Vec<String> {
    let mut cells = vec![comparison.label.clone(), decimals.difference(comparison.estimate)];
    if columns == 6 {
        cells.push(String::new());
    }
    cells.extend([
        decimals.finer().value(comparison.se),
        decimals.interval(comparison.lower, comparison.upper),
        format!("p {}", p_value(comparison.p_dunnett)),
    ]);
    cells
}
