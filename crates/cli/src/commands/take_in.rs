//! `guardrow take-in`

use std::path::PathBuf;

use guardrow_station::{ErrorKind, IntakeReport, StationError};

use crate::arguments::TrialOf;
use crate::trouble::remark_lines;
use crate::{given_file, printed};

/// Look over a filled sheet or table, and take it in
///
/// Without --accept nothing is written: the file is looked over as a whole, and it is said how it was understood.
#[derive(Debug, clap::Args)]
pub(crate) struct TakeIn {
    #[command(flatten)]
    of: TrialOf,
    /// The filled sheet or table: CSV or a workbook
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Who takes it in; every record says who
    #[arg(long, value_name = "NAME")]
    by: String,
    /// Take it in, whole, when nothing stands against it
    #[arg(long)]
    accept: bool,
    /// Print what was understood as JSON
    #[arg(long)]
    pub json: bool,
}

pub(crate) fn run(take_in: &TakeIn) -> Result<String, StationError> {
    let file = given_file::table(&take_in.file)?;
    let station = super::open(&take_in.of.station)?;
    let code = &take_in.of.code;
    let report = match take_in.accept {
        true => station.accept_file(code, &file, &take_in.by)?,
        false => station.check_file(code, &file)?,
    };
    if !report.acceptable {
        let what = format!("{} cannot be accepted", report.file);
        return Err(StationError::new(ErrorKind::Refused, what, report.file, "mend the rows that are named")
            .with_remarks(report.remarks));
    }
    if take_in.json { printed::json(&report) } else { Ok(in_words(&report)) }
}

fn in_words(report: &IntakeReport) -> String {
    let mut text = format!("{}: {}\n", report.file, report.read_as);
    for guess in &report.guesses {
        printed::paragraph(&mut text, &format!("  guessed: {guess}"));
    }
    let rows: Vec<Vec<String>> =
        report.counts.iter().map(|(measure, count)| vec![measure.clone(), count.to_string()]).collect();
    if !rows.is_empty() {
        text.push_str(&printed::rows(&["Measure", "Values"], &rows));
    }
    text.extend(report.remarks.iter().map(remark_lines));
    match report.accepted {
        Some(count) => text.push_str(&format!("Accepted: {count} values.\n")),
        None => text.push_str("Nothing stands against it. Nothing was written; add --accept to take it in.\n"),
    }
    text
}
