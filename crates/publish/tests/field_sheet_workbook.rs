//! The spreadsheet holds what the module promises to a reader.

#[path = "../examples/specimen/field.rs"]
#[allow(dead_code)]
mod field;
#[path = "../examples/specimen/trial.rs"]
#[allow(dead_code)]
mod trial;

use std::io::Cursor;

use calamine::{Data, DataType, Range, Reader, SheetVisible, Xlsx};
use guardrow_publish::workbook::{
    DATE_CELL, FIRST_MEASURE_COLUMN, FIRST_PLOT_ROW, FORMAT, FORMAT_VERSION, LISTS_SHEET, METADATA_SHEET, PLOT_COLUMN,
    field_sheets_xlsx,
};

fn open(bytes: Vec<u8>) -> Xlsx<Cursor<Vec<u8>>> {
    Xlsx::new(Cursor::new(bytes)).expect("a workbook")
}

fn text(range: &Range<Data>, row: u32, column: u32) -> String {
    range.get_value((row, column)).map(ToString::to_string).unwrap_or_default()
}

#[test]
fn the_same_sheets_give_the_same_bytes() {
    let make = || field_sheets_xlsx(&field::sheets()).expect("a workbook");
    assert!(make() == make());
}

#[test]
fn plots_stand_where_the_constants_say() {
    let sheets = field::sheets();
    let mut workbook = open(field_sheets_xlsx(&sheets).expect("a workbook"));
    let range = workbook.worksheet_range("Stand count").expect("the event's worksheet");
    for (row, plot) in (FIRST_PLOT_ROW..).zip(&sheets[0].plots) {
        let value = range.get_value((row, u32::from(PLOT_COLUMN))).and_then(DataType::as_f64);
        assert_eq!(value, Some(f64::from(plot.plot)));
    }
    assert_eq!(text(&range, 5, u32::from(FIRST_MEASURE_COLUMN)), "Stand, near end");
    assert_eq!(text(&range, 7, u32::from(FIRST_MEASURE_COLUMN) + 1), "if none");
    assert_eq!(text(&range, DATE_CELL.0, u32::from(DATE_CELL.1)), "");
}

#[test]
fn metadata_are_hidden_and_complete() {
    let sheets = field::sheets();
    let mut workbook = open(field_sheets_xlsx(&sheets).expect("a workbook"));
    let hidden = |name: &str, workbook: &Xlsx<_>| {
        workbook.sheets_metadata().iter().any(|sheet| sheet.name == name && sheet.visible == SheetVisible::Hidden)
    };
    assert!(hidden(METADATA_SHEET, &workbook) && hidden(LISTS_SHEET, &workbook));
    let range = workbook.worksheet_range(METADATA_SHEET).expect("metadata");
    let row = |row: u32| (0..10).map(|column| text(&range, row, column)).collect::<Vec<_>>();
    assert_eq!(row(0)[..3], ["format", FORMAT, &FORMAT_VERSION.to_string()]);
    assert_eq!(row(1)[..3], ["trial", "BW-31-02", "2"]);
    assert_eq!(row(2)[..6], ["sheet", "BW3102-2-STAND", "Stand count", "Stand count", "32", "11"]);
    let measure = ["measure", "BW3102-2-STAND", "stand_a", "Stand, near end", "plants", "whole", "5", "6", "0", "80"];
    assert_eq!(row(3), measure);
    assert_eq!(row(5)[2..8], ["vigour", "Vigour", "", "scale", "9", "10"]);
    let measures: usize = sheets.iter().map(|sheet| sheet.measures.len()).sum();
    assert_eq!(range.height(), 1 + 2 * sheets.len() + measures);
}

#[test]
fn drop_downs_offer_reasons_and_scale_steps() {
    let mut workbook = open(field_sheets_xlsx(&field::sheets()).expect("a workbook"));
    let range = workbook.worksheet_range(LISTS_SHEET).expect("lists");
    let column = |column: u32| (0..5).map(|row| text(&range, row, column)).collect::<Vec<_>>();
    assert_eq!(column(0), ["not seen", "lost", "not applicable", "", ""]);
    assert_eq!(column(1), ["1", "2", "3", "4", "5"]);
    assert_eq!(column(2), ["0", "1", "3", "5", "9"]);
}

#[test]
fn what_looks_like_a_formula_stays_text() {
    let mut sheets = field::sheets();
    for (plot, treatment) in sheets[0].plots.iter_mut().zip(["=1+1", "+SUM(A1)", "-2", "@x", "\t=3"]) {
        plot.treatment = Some(treatment.into());
    }
    sheets[0].measures[0].name = "=cmd|' /C calc'!A0".into();
    let mut workbook = open(field_sheets_xlsx(&sheets).expect("a workbook"));
    let formulas = workbook.worksheet_formula("Stand count").expect("the event's worksheet");
    assert!(formulas.cells().all(|(_, _, formula)| formula.is_empty()));
    let range = workbook.worksheet_range("Stand count").expect("the event's worksheet");
    assert_eq!(text(&range, FIRST_PLOT_ROW, 4), "=1+1");
    assert_eq!(text(&range, FIRST_PLOT_ROW + 2, 4), "-2");
}
