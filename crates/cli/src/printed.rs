//! What is printed on standard output: text, tables and reports that read well without colour.

use std::io::{ErrorKind as Cause, Write};

use comfy_table::{CellAlignment, ContentArrangement, LineStyle, TableStyle};
use guardrow_publish::report::{Align, Finding, Report, ResponseReport, RowKind, Table};
use guardrow_station::{ErrorKind, StationError};

/// One rule under the headings, nothing else.
const RULED: TableStyle = TableStyle::new().header_separator(LineStyle::none().fill('-').junction('-'));

/// Width of tables where there is no terminal to ask.
const WIDTH: u16 = 100;

/// Writes an answer. A reader that goes away early, such as `head`, is no trouble.
pub(crate) fn to_standard_output(answer: &str) -> Result<(), StationError> {
    let mut out = std::io::stdout().lock();
    match out.write_all(answer.as_bytes()).and_then(|()| out.flush()) {
        Err(cause) if cause.kind() != Cause::BrokenPipe => Err(StationError::new(
            ErrorKind::NoRoom,
            format!("the answer cannot be written: {cause}"),
            "standard output",
            "look whether the disk is full",
        )),
        _ => Ok(()),
    }
}

/// A value as JSON with line breaks.
pub(crate) fn json<T: serde::Serialize>(value: &T) -> Result<String, StationError> {
    let text = serde_json::to_string_pretty(value);
    text.map(|text| text + "\n")
        .map_err(|error| crate::trouble::fault(format!("the answer cannot be put in JSON: {error}")))
}

/// Rows under headings.
pub(crate) fn rows(headings: &[&str], rows: &[Vec<String>]) -> String {
    let mut table = empty_table();
    table.set_header(headings.iter().copied());
    table.add_rows(rows.iter().cloned());
    finished(&table)
}

/// A report in words and tables: the findings first, then how they were come by.
pub(crate) fn report(report: &Report) -> String {
    let mut text = String::new();
    let head = &report.heading;
    heading(&mut text, &format!("{}  {}", head.trial_code, head.title));
    for line in [&head.site, &head.stamp.text] {
        paragraph(&mut text, line);
    }
    heading(&mut text, "Findings");
    text.push_str(&findings(&report.findings));
    question(&mut text, report);
    heading(&mut text, "How it was laid out");
    for sentence in &report.method.sentences {
        paragraph(&mut text, sentence);
    }
    for response in &report.responses {
        response_text(&mut text, response);
    }
    listed(&mut text, "What this does not mean", &report.not_meant);
    listed(&mut text, "Cautions", &report.cautions);
    paragraph(&mut text, &report.exclusions.sentence);
    heading(&mut text, "How these numbers were made");
    for fact in &report.provenance {
        paragraph(&mut text, &format!("{}: {}", fact.label, fact.value));
    }
    text
}

/// Findings, each with its verdict, its sentence and its numbers.
pub(crate) fn findings(findings: &[Finding]) -> String {
    let mut text = String::new();
    if findings.is_empty() {
        paragraph(&mut text, "There are none: the question makes no claim, or nothing was observed yet.");
    }
    for finding in findings {
        paragraph(&mut text, &format!("[{}] {}", finding.verdict.word, finding.claim));
        for part in [&finding.sentence, &finding.numbers, &finding.would_take] {
            indented(&mut text, part);
        }
        if !finding.not_to_say.is_empty() {
            indented(&mut text, &format!("May not be said of it: {}.", finding.not_to_say.join(", ")));
        }
    }
    text
}

fn question(text: &mut String, report: &Report) {
    let question = &report.question;
    heading(text, "Question");
    for line in [&question.decision, &question.claim] {
        paragraph(text, line);
    }
    if !question.margin.is_empty() {
        paragraph(text, &format!("Smallest difference worth acting on: {}", question.margin));
    }
    if !question.premise.text.is_empty() {
        paragraph(text, &format!("Premise: {} ({})", question.premise.text, question.premise.status_text));
        indented(text, &question.premise.evidence);
    }
    text.push_str(&table(&question.chain));
    paragraph(text, &question.chain_sentence);
    for rival in &question.rivals {
        paragraph(text, rival);
    }
}

fn response_text(text: &mut String, response: &ResponseReport) {
    let unit = if response.unit.is_empty() { String::new() } else { format!(" ({})", response.unit) };
    heading(text, &format!("{}{unit}", response.measure));
    paragraph(text, &response.n_sentence);
    text.push_str(&table(&response.tests));
    paragraph(text, &response.gate_sentence);
    for means in &response.means {
        text.push_str(&table(means));
    }
    for line in &response.precision {
        paragraph(text, line);
    }
    for notice in &response.notices {
        paragraph(text, &format!("Note: {}", notice.text));
    }
}

/// A table of a report.
pub(crate) fn table(table: &Table) -> String {
    if table.rows.is_empty() {
        return String::new();
    }
    let mut text = String::new();
    paragraph(&mut text, &table.caption);
    let mut drawn = empty_table();
    drawn.set_header(table.columns.iter().map(|column| match column.unit.as_str() {
        "" => column.heading.clone(),
        unit => format!("{} ({unit})", column.heading),
    }));
    for row in &table.rows {
        let mut cells = row.cells.clone();
        if let (Some(first), Some(mark)) = (cells.first_mut(), mark(row.kind)) {
            *first = format!("{first}{mark}");
        }
        drawn.add_row(cells);
    }
    for (at, column) in table.columns.iter().enumerate() {
        if let Some(drawn) = drawn.column_mut(at) {
            drawn.set_cell_alignment(alignment(column.align));
        }
    }
    text.push_str(&finished(&drawn));
    for note in &table.notes {
        paragraph(&mut text, note);
    }
    text
}

/// What a page shows by colour or weight is said in words here.
fn mark(kind: RowKind) -> Option<&'static str> {
    match kind {
        RowKind::Plain | RowKind::Total => None,
        RowKind::Group => Some(":"),
        RowKind::Attention => Some("  <-- look here"),
        RowKind::Muted => Some("  (not to be quoted)"),
    }
}

fn alignment(align: Align) -> CellAlignment {
    match align {
        Align::Left => CellAlignment::Left,
        Align::Right => CellAlignment::Right,
        Align::Centre => CellAlignment::Center,
    }
}

fn empty_table() -> comfy_table::Table {
    let mut table = comfy_table::Table::new();
    table.load_style(RULED).set_content_arrangement(ContentArrangement::Dynamic);
    if !table.is_tty() {
        table.set_width(WIDTH);
    }
    table
}

fn finished(table: &comfy_table::Table) -> String {
    table.trim_fmt() + "\n\n"
}

/// A heading with a rule under it.
pub(crate) fn heading(text: &mut String, words: &str) {
    let rule = "=".repeat(words.chars().count());
    text.push_str(&format!("\n{words}\n{rule}\n"));
}

/// A line, unless it is empty.
pub(crate) fn paragraph(text: &mut String, words: &str) {
    if !words.is_empty() {
        text.push_str(words);
        text.push('\n');
    }
}

/// A line set in, unless it is empty.
pub(crate) fn indented(text: &mut String, words: &str) {
    if !words.is_empty() {
        text.push_str(&format!("    {words}\n"));
    }
}

fn listed(text: &mut String, words: &str, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    heading(text, words);
    for line in lines {
        paragraph(text, &format!("- {line}"));
    }
}
