//! Writes one specimen of everything that this crate makes, from invented data, to a folder.
//!
//! `cargo run -p guardrow-publish --example specimen -- FOLDER`

mod field;
mod trial;

use std::path::{Path, PathBuf};
use std::time::Instant;
use std::{env, fs};

use guardrow_publish::document::{self, Paper};
use guardrow_publish::workbook;

type Made = Result<Vec<u8>, guardrow_publish::PublishError>;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = env::args_os().nth(1).map(PathBuf::from).ok_or("name a folder to write to")?;
    fs::create_dir_all(&folder)?;
    let report = trial::report();
    let map = trial::map();
    let sheets = field::sheets();
    write(&folder, "report-a4.pdf", || document::report_pdf(&report, Paper::A4))?;
    write(&folder, "report-letter.pdf", || document::report_pdf(&report, Paper::Letter))?;
    write(&folder, "map-open.pdf", || document::map_pdf(&map, Paper::A4))?;
    write(&folder, "map-blind.pdf", || document::map_pdf(&map.blinded(), Paper::A4))?;
    write(&folder, "field-sheets.pdf", || document::field_sheet_pdf(&sheets, Paper::A4))?;
    write(&folder, "labels.pdf", || document::labels_pdf(&field::labels()))?;
    write(&folder, "packing.pdf", || document::packing_pdf(&field::packing_list(), Paper::A4))?;
    write(&folder, "field-sheets.xlsx", || workbook::field_sheets_xlsx(&sheets))?;
    write(&folder, "report.json", || Ok(serde_json::to_vec_pretty(&report).unwrap_or_default()))?;
    for (name, figure) in trial::figures() {
        fs::write(folder.join(format!("chart-{name}.svg")), &figure.svg)?;
        fs::write(folder.join(format!("chart-{name}-phone.svg")), &figure.svg_phone)?;
    }
    let package = folder.join("data-package");
    fs::create_dir_all(&package)?;
    for (path, bytes) in field::data_package().files()? {
        let path = package.join(path);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent)?;
        }
        fs::write(path, bytes)?;
    }
    Ok(())
}

fn write(folder: &Path, name: &str, make: impl Fn() -> Made) -> Result<(), Box<dyn std::error::Error>> {
    let start = Instant::now();
    let bytes = make()?;
    let first = start.elapsed();
    let start = Instant::now();
    make()?;
    println!("{name:<22} {:>8} bytes, {first:>10.1?} first, {:>10.1?} again", bytes.len(), start.elapsed());
    fs::write(folder.join(name), bytes)?;
    Ok(())
}
