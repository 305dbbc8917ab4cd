//! Means with their intervals: a dot, a whisker, the number beside it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Axis;
use super::frame::{bottom_axis, cut_note, level_whisker, notes, nothing_to_draw};
use super::palette::{INK, RULE};
use super::scale::{Scale, drawable, extent, quantity_range};
use super::svg::{Anchor, Drawing, Ink, Stroke, TEXT};
use crate::typeface::{Weight, text_width, wrap};

/// One mean.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct MeanPoint {
    /// Treatment or level.
    pub label: String,
    /// A heading under which neighbouring rows stand together; empty for none.
    #[serde(default)]
    pub group: String,
    /// The mean.
    pub mean: f64,
    /// Lower end of the interval.
    pub lower: f64,
    /// Upper end of the interval.
    pub upper: f64,
    /// The mean as it is printed: `3.42`, `3.42 ab`.
    pub text: String,
}

/// Means with intervals, one row each, in the order given.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct MeansChart {
    /// Names the chart.
    pub title: String,
    /// What it shows, for someone who cannot see it.
    #[serde(default)]
    pub description: String,
    /// The response.
    pub axis: Axis,
    /// The means.
    pub rows: Vec<MeanPoint>,
    /// What the bars are: `Bars: 95 % confidence intervals, 9 error df`.
    pub interval_text: String,
}

const ROW: f64 = 27.0;
const GROUP_ROW: f64 = 24.0;
const LABEL_LINE: f64 = 15.0;

/// Where things stand across the drawing.
struct Columns {
    /// Widest label.
    label_width: f64,
    /// Labels stand above their row instead of beside it.
    stacked: bool,
    left: f64,
    right: f64,
    width: f64,
}

impl Columns {
    fn of(chart: &MeansChart, width: f64) -> Self {
        let widest = |texts: &mut dyn Iterator<Item = &str>| {
            texts.map(|text| text_width(text, TEXT, Weight::Regular)).fold(0.0, f64::max)
        };
        let value_width = widest(&mut chart.rows.iter().map(|row| row.text.as_str())).min(width * 0.25);
        let label_width = widest(&mut chart.rows.iter().map(|row| row.label.as_str()));
        let stacked = width < 400.0;
        let label_width = if stacked { width - value_width - 24.0 } else { label_width.min(width * 0.36) };
        let left = if stacked { 14.0 } else { label_width + 20.0 };
        Self { label_width, stacked, left, right: width - value_width - 22.0, width }
    }
}

/// Draws the chart.
pub(super) fn draw(chart: &MeansChart, width: f64) -> String {
    let values = chart.rows.iter().flat_map(|row| [row.mean, row.lower, row.upper]);
    let Some(range) = extent(values) else {
        return nothing_to_draw(width, &chart.title, &chart.description);
    };
    let columns = Columns::of(chart, width);
    let ticks = if columns.stacked { 4 } else { 6 };
    let scale = Scale::new(quantity_range(range), (columns.left, columns.right), ticks);
    let heights: Vec<f64> = rows_with_heights(chart, &columns);
    let bottom = 8.0 + heights.iter().sum::<f64>();

    let mut drawing = Drawing::new(width);
    let middle = (columns.left + columns.right) / 2.0;
    let mut below = bottom_axis(&mut drawing, &scale, (4.0, bottom), &chart.axis.title(), middle);
    draw_rows(&mut drawing, chart, &columns, &scale, &heights);
    below = notes(&mut drawing, (8.0, below), width - 16.0, &[&chart.interval_text, cut_note(&scale)]);
    drawing.finish(below + 6.0, &chart.title, &chart.description)
}

/// Height of each row with its group heading, if it opens a group.
fn rows_with_heights(chart: &MeansChart, columns: &Columns) -> Vec<f64> {
    let label_lines = |row: &MeanPoint| label_of(row, columns).len() as f64;
    let height = |row: &MeanPoint| {
        let lines = label_lines(row);
        if columns.stacked { ROW + lines * LABEL_LINE } else { ROW + (lines - 1.0).max(0.0) * (LABEL_LINE - 3.0) }
    };
    let mut group = "";
    let mut heights = Vec::with_capacity(chart.rows.len());
    for row in &chart.rows {
        let opens = row.group != group && !row.group.is_empty();
        group = &row.group;
        heights.push(height(row) + if opens { GROUP_ROW } else { 0.0 });
    }
    heights
}

fn label_of(row: &MeanPoint, columns: &Columns) -> Vec<String> {
    wrap(&row.label, columns.label_width, TEXT, Weight::Regular, 2)
}

fn draw_rows(drawing: &mut Drawing, chart: &MeansChart, columns: &Columns, scale: &Scale, heights: &[f64]) {
    let mut top = 8.0;
    let mut group = "";
    for (row, height) in chart.rows.iter().zip(heights) {
        let mut row_top = top;
        if row.group != group && !row.group.is_empty() {
            drawing.text((8.0, top + 17.0), &row.group, Ink::LABEL.bold());
            row_top += GROUP_ROW;
        }
        group = &row.group;
        draw_row(drawing, row, columns, scale, (row_top, top + height));
        top += height;
    }
}

fn draw_row(drawing: &mut Drawing, row: &MeanPoint, columns: &Columns, scale: &Scale, (top, bottom): (f64, f64)) {
    let lines = label_of(row, columns);
    let used = lines.len() as f64 * LABEL_LINE;
    let y = if columns.stacked { top + used + (bottom - top - used) / 2.0 } else { (top + bottom) / 2.0 };
    let first = if columns.stacked { top + 12.0 } else { y + 4.5 - (used - LABEL_LINE) / 2.0 };
    drawing.open("gr-row", &[("data-label", &row.label)], &format!("{}: {}", row.label, row.text));
    for (index, line) in lines.iter().enumerate() {
        drawing.text((8.0, first + index as f64 * LABEL_LINE), line, Ink::LABEL);
    }
    if drawable(row.mean) {
        drawing.line((columns.left, y), (columns.right, y), Stroke::new("gr-grid", RULE, 0.6).dashed("1 3"));
        if drawable(row.lower) && drawable(row.upper) {
            level_whisker(drawing, (scale.px(row.lower), scale.px(row.upper)), y, INK);
        }
        drawing.disc((scale.px(row.mean), y), 4.2, "gr-mark", INK, INK);
    }
    drawing.text((columns.width - 8.0, y + 4.5), &row.text, Ink::LABEL.anchored(Anchor::End));
    drawing.close();
}
