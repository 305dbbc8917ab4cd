//! PDF documents: static templates, one JSON file of data, embedded typefaces.
//!
//! Text of people travels as data and can never become template code. The same view gives the same bytes.

mod qr;
mod world;

use serde::Serialize;
use serde_json::{Value, json};

use crate::chart::plot_map;
use crate::error::PublishError;
use crate::field_sheet::{EMPTIES, FieldSheet};
use crate::labels::{LabelSheet, LabelStock};
use crate::map::MapView;
use crate::packing::PackingList;
use crate::report::Report;
use world::{Template, set_pdf};

pub use qr::qr_svg;

/// Size of the paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// 210 × 297 mm.
    #[default]
    A4,
    /// 8.5 × 11 in.
    Letter,
}

impl Paper {
    fn name(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "us-letter",
        }
    }
}

const REPORT: Template = Template { document: "report", path: "report.typ", tagged: true };
const MAP: Template = Template { document: "plot map", path: "map.typ", tagged: true };
const FIELD_SHEET: Template = Template { document: "field sheet", path: "field_sheet.typ", tagged: false };
const LABELS: Template = Template { document: "labels", path: "labels.typ", tagged: false };
const PACKING: Template = Template { document: "packing list", path: "packing.typ", tagged: true };

/// The trial report.
///
/// # Errors
/// [`PublishError::Template`] if the typesetter refuses the report, which is a fault of this crate.
pub fn report_pdf(report: &Report, paper: Paper) -> Result<Vec<u8>, PublishError> {
    let data = json!({ "paper": paper.name(), "report": view(REPORT, report)? });
    set_pdf(REPORT, &data, &report.heading.trial_code)
}

/// The plot map on one landscape sheet; open or blind as the map says.
///
/// # Errors
/// As [`report_pdf`].
pub fn map_pdf(map: &MapView, paper: Paper) -> Result<Vec<u8>, PublishError> {
    let blinded;
    let map = if map.blind {
        blinded = map.blinded();
        &blinded
    } else {
        map
    };
    let key_lines = map.treatments.len().min(40).div_ceil(MAP_KEY_COLUMNS);
    let (width, height) = match paper {
        Paper::A4 => (1010.0, 700.0),
        Paper::Letter => (950.0, 720.0),
    };
    let drawing = plot_map(map, width, height - 84.0 - 19.0 * key_lines as f64);
    let data = json!({ "paper": paper.name(), "map": view(MAP, map)?, "svg": drawing });
    set_pdf(MAP, &data, &format!("{} layout {} {}", map.trial_code, map.layout_version, map.blind))
}

/// Columns of the treatment key under the map; `map.typ` has the same number.
const MAP_KEY_COLUMNS: usize = 3;

/// Field sheets for several events, each starting on a new page.
///
/// # Errors
/// As [`report_pdf`].
pub fn field_sheet_pdf(sheets: &[FieldSheet], paper: Paper) -> Result<Vec<u8>, PublishError> {
    let empties: Vec<Value> = EMPTIES
        .iter()
        .map(|empty| json!({ "mark": empty.mark, "meaning": empty.meaning, "word": empty.word }))
        .collect();
    let printed: Vec<String> = sheets.iter().map(FieldSheet::printed_id).collect();
    let data = json!({
        "paper": paper.name(),
        "sheets": view(FIELD_SHEET, &sheets)?,
        "printed_ids": printed,
        "empties": empties,
    });
    set_pdf(FIELD_SHEET, &data, &printed.join(" "))
}

/// Packet labels at true scale on the sheet's label stock.
///
/// # Errors
/// [`PublishError::Stock`] if the labels do not fit the sheet, [`PublishError::CodeTooLong`] if a code is too long.
pub fn labels_pdf(sheet: &LabelSheet) -> Result<Vec<u8>, PublishError> {
    check_stock(&sheet.stock)?;
    let mut codes = Vec::with_capacity(sheet.labels.len());
    for label in &sheet.labels {
        let too_long = || PublishError::CodeTooLong {
            sequence: label.sequence,
            plot: label.plot.clone(),
            length: label.code.len(),
        };
        codes.push(qr_svg(&label.code).ok_or_else(too_long)?);
    }
    let data = json!({ "sheet": view(LABELS, sheet)?, "codes": codes });
    set_pdf(LABELS, &data, &sheet.title)
}

/// The packing list.
///
/// # Errors
/// As [`report_pdf`].
pub fn packing_pdf(list: &PackingList, paper: Paper) -> Result<Vec<u8>, PublishError> {
    let data = json!({ "paper": paper.name(), "list": view(PACKING, list)? });
    set_pdf(PACKING, &data, &format!("{} layout {}", list.trial_code, list.layout_version))
}

fn view(template: Template, view: &impl Serialize) -> Result<Value, PublishError> {
    let fault =
        |error: serde_json::Error| PublishError::Template { document: template.document, message: error.to_string() };
    serde_json::to_value(view).map_err(fault)
}

/// The largest sheet that any office printer takes, mm.
const LARGEST_SHEET_MM: f64 = 1000.0;
/// The smallest label on which plot number, sequence and a readable code fit, mm.
const SMALLEST_LABEL_MM: (f64, f64) = (35.0, 18.0);

fn check_stock(stock: &LabelStock) -> Result<(), PublishError> {
    let refuse = |what: String| Err(PublishError::Stock { what });
    let gaps = [stock.left_mm, stock.top_mm, stock.column_gap_mm, stock.row_gap_mm];
    if gaps.iter().any(|gap| !gap.is_finite() || *gap < 0.0) {
        return refuse("margins and gaps must be zero or more".to_string());
    }
    for (name, sheet) in [("sheet width", stock.sheet_width_mm), ("sheet height", stock.sheet_height_mm)] {
        if !(sheet > 0.0 && sheet <= LARGEST_SHEET_MM) {
            return refuse(format!("the {name} is {sheet} mm, expected up to {LARGEST_SHEET_MM}"));
        }
    }
    let (least_width, least_height) = SMALLEST_LABEL_MM;
    if !(stock.width_mm >= least_width && stock.height_mm >= least_height) {
        let (width, height) = (stock.width_mm, stock.height_mm);
        return refuse(format!("a label of {width} × {height} mm is smaller than {least_width} × {least_height} mm"));
    }
    let needed = |first: f64, count: u32, size: f64, gap: f64| {
        first + f64::from(count) * size + f64::from(count.saturating_sub(1)) * gap
    };
    let width = needed(stock.left_mm, stock.columns, stock.width_mm, stock.column_gap_mm);
    let height = needed(stock.top_mm, stock.rows, stock.height_mm, stock.row_gap_mm);
    // Half a millimetre of grace: stock is named in rounded millimetres.
    if stock.columns == 0 || width > stock.sheet_width_mm + 0.5 {
        return refuse(format!(
            "{} columns need {width} mm of a sheet {} mm wide",
            stock.columns, stock.sheet_width_mm
        ));
    }
    if stock.rows == 0 || height > stock.sheet_height_mm + 0.5 {
        return refuse(format!("{} rows need {height} mm of a sheet {} mm high", stock.rows, stock.sheet_height_mm));
    }
    Ok(())
}
