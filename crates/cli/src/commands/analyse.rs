//! `guardrow analyse`

use std::path::{Path, PathBuf};

use guardrow_publish::chart::Figure;
use guardrow_publish::document::{Paper, report_pdf};
use guardrow_publish::report::Report;
use guardrow_station::{ReportInFull, StationError, analyse_file_in_full, r_script_of_file};

use crate::{given_file, given_folder, printed, trouble};

/// Analyse and report a trial that was laid out elsewhere, without a station
#[derive(Debug, clap::Args)]
pub(crate) struct Analyse {
    /// Plan file of the trial
    #[arg(value_name = "PLAN.toml")]
    plan: PathBuf,
    /// Table with a row per plot: CSV or a workbook
    #[arg(value_name = "TABLE")]
    table: PathBuf,
    /// Print the whole report as JSON, with the analyses unrounded
    #[arg(long)]
    pub json: bool,
    /// Write the report as a PDF too
    #[arg(long, value_name = "FILE.pdf")]
    report: Option<PathBuf>,
    /// Write report (PDF and JSON) and charts (SVG) into a folder
    #[arg(long, value_name = "FOLDER")]
    out: Option<PathBuf>,
    /// Write a script for R that reproduces the analyses, and its data, into a new folder
    #[arg(long, value_name = "FOLDER")]
    r_script: Option<PathBuf>,
    /// Write over the files of an earlier script for R in that folder
    #[arg(long, requires = "r_script")]
    replace: bool,
}

pub(crate) fn run(analyse: &Analyse) -> Result<String, StationError> {
    let plan = given_file::plan(&analyse.plan)?;
    let table = given_file::table(&analyse.table)?;
    let full = analyse_file_in_full(&plan, &table, jiff::Timestamp::now)?;
    let report = &full.report;
    if let Some(file) = &analyse.report {
        given_file::write(file, &pdf(report)?)?;
        eprintln!("The report is in {}.", file.display());
    }
    if let Some(folder) = &analyse.out {
        write_out(&full, folder)?;
        eprintln!("Report and charts are in {}.", folder.display());
    }
    if let Some(folder) = &analyse.r_script {
        let script = r_script_of_file(&plan, &table, jiff::Timestamp::now)?;
        given_folder::write(folder, &script.files, analyse.replace)?;
        eprintln!("The script for R is in {}; it compares {} numbers.", folder.display(), script.numbers);
    }
    if analyse.json { printed::json(&full) } else { Ok(printed::report(report)) }
}

fn write_out(full: &ReportInFull, folder: &Path) -> Result<(), StationError> {
    let report = &full.report;
    given_file::make_folder(folder)?;
    given_file::write(&folder.join("report.pdf"), &pdf(report)?)?;
    given_file::write(&folder.join("report.json"), printed::json(full)?.as_bytes())?;
    let write_chart = |name: String, figure: &Figure| given_file::write(&folder.join(name), figure.svg.as_bytes());
    if let Some(map) = &report.map {
        write_chart("map.svg".to_owned(), map)?;
    }
    for response in &report.responses {
        for (at, figure) in response.figures.iter().enumerate() {
            write_chart(format!("{}-{}.svg", response.key, at + 1), figure)?;
        }
        if let Some(figure) = &response.diagnostics {
            write_chart(format!("{}-residuals.svg", response.key), figure)?;
        }
    }
    Ok(())
}

fn pdf(report: &Report) -> Result<Vec<u8>, StationError> {
    report_pdf(report, Paper::A4).map_err(|error| trouble::fault(error.to_string()))
}
