//! One event's worksheet: heading, plots in walking order, cells to fill in.

use rust_xlsxwriter::{
    Color, DataValidation, DataValidationRule, ExcelDateTime, Format, FormatAlign, FormatBorder, Formula,
    ProtectionOptions, Worksheet, XlsxError,
};

use super::metadata::{ListColumns, empty_words, note_column, value_column};
use super::text::{cell_text, cut, safe_format};
use super::{DATE_CELL, FIRST_PLOT_ROW, LISTS_SHEET, OBSERVER_CELL, PLOT_COLUMN};
use crate::field_sheet::{Entry, FieldSheet, SheetMeasure, SheetPlot};

const HEADING_ROW: u32 = 5;
const UNIT_ROW: u32 = 6;
const RULE_ROW: u32 = 7;
/// Paper size 9 of the format: A4.
const A4: u8 = 9;

struct Formats {
    title: Format,
    soft: Format,
    heading: Format,
    unit: Format,
    place: Format,
    plot: Format,
    input: Format,
    date: Format,
    reason: Format,
}

impl Formats {
    fn new() -> Self {
        let plain = Format::new().set_font_name("Arial").set_font_size(10);
        let lines = plain.clone().set_border(FormatBorder::Thin).set_border_color(Color::RGB(0x00B9_B4A8));
        let input = lines.clone().set_unlocked().set_background_color(Color::RGB(0x00FF_FDF6));
        Self {
            title: plain.clone().set_bold().set_font_size(15),
            soft: plain.clone().set_font_color(Color::RGB(0x005B_6168)),
            heading: lines
                .clone()
                .set_bold()
                .set_text_wrap()
                .set_align(FormatAlign::Center)
                .set_align(FormatAlign::Top),
            unit: lines
                .clone()
                .set_font_color(Color::RGB(0x005B_6168))
                .set_text_wrap()
                .set_font_size(9)
                .set_align(FormatAlign::Center),
            place: lines.clone().set_align(FormatAlign::Center).set_font_color(Color::RGB(0x005B_6168)),
            plot: lines.set_align(FormatAlign::Center).set_bold().set_font_size(13),
            date: input.clone().set_num_format("yyyy-mm-dd"),
            reason: input.clone().set_font_size(9).set_font_color(Color::RGB(0x005B_6168)),
            input,
        }
    }
}

/// Writes the worksheet.
pub(super) fn write(to: &mut Worksheet, sheet: &FieldSheet, name: &str, lists: &ListColumns) -> Result<(), XlsxError> {
    let formats = Formats::new();
    to.set_name(name)?;
    write_head(to, sheet, &formats)?;
    write_headings(to, sheet, &formats)?;
    for (row, plot) in (FIRST_PLOT_ROW..).zip(&sheet.plots) {
        write_plot(to, sheet, row, plot, &formats)?;
    }
    if !sheet.plots.is_empty() {
        let last = FIRST_PLOT_ROW + sheet.plots.len() as u32 - 1;
        for (index, measure) in sheet.measures.iter().enumerate() {
            add_validation(to, measure, value_column(index), last, lists[index])?;
        }
    }
    set_page(to, sheet)
}

fn write_text(to: &mut Worksheet, row: u32, column: u16, text: &str, format: &Format) -> Result<(), XlsxError> {
    to.write_string_with_format(row, column, cell_text(text), &safe_format(text, format))?;
    Ok(())
}

fn write_head(to: &mut Worksheet, sheet: &FieldSheet, formats: &Formats) -> Result<(), XlsxError> {
    write_text(to, 0, 0, &format!("{} · {}", sheet.trial_code, sheet.event), &formats.title)?;
    let about = [
        sheet.title.clone(),
        sheet.site.clone(),
        format!("season {}", sheet.season),
        format!("layout {}", sheet.layout_version),
        format!("sheet {}", sheet.printed_id()),
        sheet.due.clone(),
    ];
    let about: Vec<String> = about.into_iter().filter(|part| !part.is_empty()).collect();
    write_text(to, 1, 0, &about.join(" · "), &formats.soft)?;
    let walk: Vec<&str> = std::iter::once(&sheet.walk).chain(&sheet.instructions).map(String::as_str).collect();
    write_text(to, 2, 0, walk.join(" ").trim(), &formats.soft)?;
    let (row, column) = DATE_CELL;
    write_text(to, row, 0, "Day observed", &formats.soft)?;
    to.write_blank(row, column, &formats.date)?;
    to.add_data_validation(row, column, row, column, &day_rule()?)?;
    let (row, column) = OBSERVER_CELL;
    write_text(to, row, column - 2, "Observed by", &formats.soft)?;
    to.write_blank(row, column, &formats.input)?;
    Ok(())
}

fn write_headings(to: &mut Worksheet, sheet: &FieldSheet, formats: &Formats) -> Result<(), XlsxError> {
    let note = note_column(sheet);
    for (column, heading) in (0..).zip(["walk", "plot", "range", "pass", "treatment"]) {
        write_text(to, HEADING_ROW, column, heading, &formats.heading)?;
        for row in [UNIT_ROW, RULE_ROW] {
            to.write_blank(row, column, &formats.unit)?;
        }
    }
    for (index, measure) in sheet.measures.iter().enumerate() {
        let column = value_column(index);
        write_text(to, HEADING_ROW, column, &measure.name, &formats.heading)?;
        to.write_blank(HEADING_ROW, column + 1, &formats.heading)?;
        write_text(to, UNIT_ROW, column, &measure.unit, &formats.unit)?;
        to.write_blank(UNIT_ROW, column + 1, &formats.unit)?;
        write_text(to, RULE_ROW, column, &rule_text(measure), &formats.unit)?;
        write_text(to, RULE_ROW, column + 1, "if none", &formats.unit)?;
    }
    write_text(to, HEADING_ROW, note, "note", &formats.heading)?;
    for row in [UNIT_ROW, RULE_ROW] {
        to.write_blank(row, note, &formats.unit)?;
    }
    Ok(())
}

fn rule_text(measure: &SheetMeasure) -> String {
    let rule = match &measure.entry {
        Entry::Number { least, most, whole } => {
            let kind = if *whole { "whole number" } else { "number" };
            match (least, most) {
                (Some(least), Some(most)) => format!("{kind}, {least} to {most}"),
                (Some(least), None) => format!("{kind}, {least} or more"),
                (None, Some(most)) => format!("{kind}, up to {most}"),
                (None, None) => kind.to_string(),
            }
        }
        Entry::Scale { steps } => {
            let told = steps.iter().filter(|step| !step.meaning.is_empty());
            told.map(|step| format!("{} = {}", step.code, step.meaning)).collect::<Vec<_>>().join("; ")
        }
        Entry::Date => "year-month-day".to_string(),
        Entry::Text => "words".to_string(),
    };
    let parts: Vec<&str> = [rule.as_str(), &measure.how].into_iter().filter(|part| !part.is_empty()).collect();
    parts.join(". ")
}

fn write_plot(
    to: &mut Worksheet,
    sheet: &FieldSheet,
    row: u32,
    plot: &SheetPlot,
    formats: &Formats,
) -> Result<(), XlsxError> {
    to.write_number_with_format(row, 0, row - FIRST_PLOT_ROW + 1, &formats.place)?;
    to.write_number_with_format(row, PLOT_COLUMN, plot.plot, &formats.plot)?;
    to.write_number_with_format(row, 2, plot.range, &formats.place)?;
    to.write_number_with_format(row, 3, plot.pass, &formats.place)?;
    write_text(to, row, 4, plot.treatment.as_deref().unwrap_or(""), &formats.place)?;
    for (index, measure) in sheet.measures.iter().enumerate() {
        let column = value_column(index);
        let format = if measure.entry == Entry::Date { &formats.date } else { &formats.input };
        to.write_blank(row, column, format)?;
        to.write_blank(row, column + 1, &formats.reason)?;
    }
    to.write_blank(row, note_column(sheet), &formats.input)?;
    Ok(())
}

/// Limits are kept well inside what the format can hold.
const WHOLE: (i32, i32) = (-1_000_000_000, 1_000_000_000);
const DECIMAL: (f64, f64) = (-1e12, 1e12);

fn add_validation(
    to: &mut Worksheet,
    measure: &SheetMeasure,
    column: u16,
    last: u32,
    list: Option<u16>,
) -> Result<(), XlsxError> {
    let rule = match &measure.entry {
        Entry::Number { least, most, whole: true } => {
            let least =
                least.map_or(WHOLE.0, |least| least.ceil().clamp(f64::from(WHOLE.0), f64::from(WHOLE.1)) as i32);
            let most = most.map_or(WHOLE.1, |most| most.floor().clamp(f64::from(WHOLE.0), f64::from(WHOLE.1)) as i32);
            Some(DataValidation::new().allow_whole_number(DataValidationRule::Between(least, most)))
        }
        Entry::Number { least, most, whole: false } => {
            let limit = |limit: &Option<f64>, other: f64| limit.filter(|limit| limit.is_finite()).unwrap_or(other);
            let range = DataValidationRule::Between(limit(least, DECIMAL.0), limit(most, DECIMAL.1));
            Some(DataValidation::new().allow_decimal_number(range))
        }
        Entry::Scale { steps } => list.map(|list| choice(list, steps.len())),
        Entry::Date => Some(day_rule()?),
        Entry::Text => None,
    };
    if let Some(rule) = rule {
        let rule = rule
            .set_error_title("Not possible here")?
            .set_error_message(cut(&format!("Expected: {}", rule_text(measure)), 220))?;
        let rule = rule.set_input_title(cut(&measure.name, 30))?.set_input_message(cut(&rule_text(measure), 240))?;
        to.add_data_validation(FIRST_PLOT_ROW, column, last, column, &rule)?;
    }
    let reason = choice(0, empty_words().len()).set_error_title("Not one of the reasons")?;
    let reason = reason.set_error_message(
        "Choose not seen, lost or not applicable; leave it blank while it is still to come. A zero is a value.",
    )?;
    to.add_data_validation(FIRST_PLOT_ROW, column + 1, last, column + 1, &reason)?;
    Ok(())
}

/// A drop-down of the first `length` cells of a column of the lists worksheet.
fn choice(column: u16, length: usize) -> DataValidation {
    let letters = rust_xlsxwriter::utility::column_number_to_name(column);
    DataValidation::new().allow_list_formula(Formula::new(format!("={LISTS_SHEET}!${letters}$1:${letters}${length}")))
}

fn day_rule() -> Result<DataValidation, XlsxError> {
    let range =
        DataValidationRule::Between(ExcelDateTime::from_ymd(1950, 1, 1)?, ExcelDateTime::from_ymd(2199, 12, 31)?);
    DataValidation::new()
        .allow_date(range)
        .set_error_title("Not a day")?
        .set_error_message("Expected a day as year-month-day, for example 2031-05-04.")
}

fn set_page(to: &mut Worksheet, sheet: &FieldSheet) -> Result<(), XlsxError> {
    let note = note_column(sheet);
    for (column, width) in (0..).zip([
        6.0,
        8.0,
        7.0,
        7.0,
        if sheet.plots.iter().any(|plot| plot.treatment.is_some()) { 24.0 } else { 10.0 },
    ]) {
        to.set_column_width(column, width)?;
    }
    for (index, measure) in sheet.measures.iter().enumerate() {
        let width = if measure.entry == Entry::Text { 24.0 } else { 13.0 };
        to.set_column_width(value_column(index), width)?;
        to.set_column_width(value_column(index) + 1, 11.0)?;
    }
    to.set_column_width(note, 30.0)?;
    to.set_row_height(RULE_ROW, 62.0)?;
    to.set_freeze_panes(FIRST_PLOT_ROW, PLOT_COLUMN + 1)?;
    to.set_landscape().set_paper_size(A4).set_print_fit_to_pages(1, 0);
    to.set_repeat_rows(HEADING_ROW, RULE_ROW)?;
    let id = sheet.printed_id().replace('&', "&&");
    to.set_footer(cut(&format!("&Lsheet {id}&Rpage &P of &N"), 200));
    let options = ProtectionOptions { format_columns: true, format_rows: true, ..ProtectionOptions::default() };
    to.protect_with_options(&options);
    Ok(())
}
