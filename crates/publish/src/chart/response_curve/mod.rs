//! The response to the amounts of a factor: every plot, the means, the fitted curve with its interval, the best amounts.
//!
//! Where curves differ by the level of another factor each level has a panel of its own, all on the same axes: bands that
//! lie over each other could not be told apart in grey.

mod best;
mod panel;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Axis;
use super::frame::{cut_note, notes, nothing_to_draw};
use super::scale::{Scale, drawable, extent, lines_range};
use super::svg::{Anchor, Drawing, Ink, SMALL};
use crate::typeface::{Weight, text_width};
use best::strip_height;
use panel::{Frame, draw_panel, foot_height, head_height};

/// A plot's value at its amount.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct PlotAtAmount {
    /// Plot number.
    pub plot: String,
    /// The amount that it had.
    pub amount: f64,
    /// Its value.
    pub value: f64,
}

/// A mean at an amount.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct MeanAtAmount {
    /// The amount.
    pub amount: f64,
    /// The mean.
    pub mean: f64,
    /// Lower end of its interval; none where its error is not known.
    #[serde(default)]
    pub lower: Option<f64>,
    /// Upper end.
    #[serde(default)]
    pub upper: Option<f64>,
    /// The mean as printed.
    pub text: String,
}

/// A point of the fitted curve.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct CurvePoint {
    /// The amount.
    pub amount: f64,
    /// The curve there.
    pub value: f64,
    /// Lower end of the curve's interval there; none where its error is not known.
    #[serde(default)]
    pub lower: Option<f64>,
    /// Upper end.
    #[serde(default)]
    pub upper: Option<f64>,
}

/// In which sense an amount is best.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BestKind {
    /// Whatever the amount costs.
    #[default]
    Response,
    /// The cost of the amount taken off.
    Return,
}

/// A best amount with its interval.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct BestMark {
    /// In which sense it is best.
    pub kind: BestKind,
    /// The amount.
    pub amount: f64,
    /// Lower end of its interval; none when nothing bounds it.
    #[serde(default)]
    pub lower: Option<f64>,
    /// Upper end.
    #[serde(default)]
    pub upper: Option<f64>,
    /// Whether there is an interval at all.
    pub has_interval: bool,
    /// As printed: `highest yield at 152 (118 to 205)`.
    pub text: String,
}

/// One curve with what it was fitted to.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct CurvePanel {
    /// The level of the other factor; empty where there is one curve.
    #[serde(default)]
    pub label: String,
    /// What the curve is: `quadratic`; empty where none was fitted.
    #[serde(default)]
    pub curve_text: String,
    /// The plots.
    pub plots: Vec<PlotAtAmount>,
    /// The means, in order of their amounts.
    pub means: Vec<MeanAtAmount>,
    /// The curve, in order of its amounts.
    pub course: Vec<CurvePoint>,
    /// The best amounts.
    #[serde(default)]
    pub best: Vec<BestMark>,
}

/// A response-curve chart.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct ResponseCurveChart {
    /// Names the chart.
    pub title: String,
    /// What it shows, for someone who cannot see it.
    #[serde(default)]
    pub description: String,
    /// The amount.
    pub x_axis: Axis,
    /// The response.
    pub y_axis: Axis,
    /// One panel, or one for each level of another factor.
    pub panels: Vec<CurvePanel>,
    /// What dots, bars and bands are.
    pub interval_text: String,
}

/// Room between panels.
const GUTTER: f64 = 16.0;
/// Height of the title of the response above all panels.
const TITLE: f64 = 20.0;

/// Draws the chart.
pub(super) fn draw(chart: &ResponseCurveChart, width: f64) -> String {
    let (Some(x_range), Some(y_range)) = (x_range(chart), y_range(chart)) else {
        return nothing_to_draw(width, &chart.title, &chart.description);
    };
    let columns = columns(chart.panels.len(), width);
    let height = if columns == 1 { 230.0 } else { 160.0 };
    let y = Scale::new(lines_range(y_range), (height, 0.0), if columns == 1 { 6 } else { 5 });
    let axis_width = y.ticks().iter().map(|(_, text)| text_width(text, SMALL, Weight::Regular)).fold(0.0, f64::max);
    let left = axis_width + 16.0;
    let panel_width = (width - left - 8.0 - GUTTER * (columns - 1) as f64) / columns as f64;

    let mut drawing = Drawing::new(width);
    drawing.text((8.0, 15.0), &chart.y_axis.title(), Ink::LABEL.sized(SMALL + 0.5));
    let mut top = TITLE;
    for row in chart.panels.chunks(columns) {
        let head = row.iter().map(head_height).fold(0.0, f64::max);
        // One strip for all panels of a row, so that their axes stand at one height.
        let strip = row.iter().map(strip_height).fold(0.0, f64::max);
        let foot = strip + row.iter().map(|panel| foot_height(panel, panel_width)).fold(0.0, f64::max);
        for (column, panel) in row.iter().enumerate() {
            let left = left + column as f64 * (panel_width + GUTTER);
            let place =
                Frame { left, right: left + panel_width, top: top + head, height, strip, has_ticks: column == 0 };
            draw_panel(&mut drawing, panel, place, x_range, lines_range(y_range));
        }
        top += head + height + foot;
    }
    let middle = (left + width - 8.0) / 2.0;
    drawing.text((middle, top + 12.0), &chart.x_axis.title(), Ink::LABEL.sized(SMALL + 0.5).anchored(Anchor::Middle));
    let below = notes(&mut drawing, (8.0, top + 20.0), width - 16.0, &[&chart.interval_text, cut_note(&y)]);
    drawing.finish(below + 6.0, &chart.title, &chart.description)
}

/// Panels in a row: on a phone two; on a page three, or two and two.
fn columns(panels: usize, width: f64) -> usize {
    match (panels, width < 400.0) {
        (0 | 1, _) => 1,
        (2 | 4, _) | (_, true) => 2,
        _ => 3,
    }
}

fn y_range(chart: &ResponseCurveChart) -> Option<(f64, f64)> {
    let of_panel = |panel: &CurvePanel| {
        let plots = panel.plots.iter().map(|plot| plot.value);
        let means = panel.means.iter().flat_map(|mean| [Some(mean.mean), mean.lower, mean.upper]).flatten();
        let course = panel.course.iter().flat_map(|point| [Some(point.value), point.lower, point.upper]).flatten();
        plots.chain(means).chain(course).collect::<Vec<f64>>()
    };
    extent(chart.panels.iter().flat_map(of_panel))
}

/// The tested amounts, with a little room for best amounts outside them; what lies further out ends in an arrow.
fn x_range(chart: &ResponseCurveChart) -> Option<(f64, f64)> {
    /// Room beyond the tested amounts, as a share of their width.
    const BEYOND: f64 = 0.15;
    let amounts = |panel: &CurvePanel| {
        let plots = panel.plots.iter().map(|plot| plot.amount);
        plots.chain(panel.means.iter().map(|mean| mean.amount)).collect::<Vec<f64>>()
    };
    let (low, high) = extent(chart.panels.iter().flat_map(amounts))?;
    let room = BEYOND * (high - low);
    let marks = chart.panels.iter().flat_map(|panel| &panel.best);
    let ends = marks.flat_map(|mark| [Some(mark.amount), mark.lower, mark.upper]).flatten();
    let (least, most) = extent(ends.filter(|end| drawable(*end))).unwrap_or((low, high));
    Some((low.min(least.max(low - room)), high.max(most.min(high + room))))
}
