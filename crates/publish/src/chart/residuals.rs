//! Residuals against fitted values and their normal plot, plots named where they stand out.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::frame::{bottom_axis, left_axis, notes, nothing_to_draw};
use super::palette::{ACCENT, INK, PAPER, RULE};
use super::scale::{Scale, drawable, extent};
use super::svg::{Drawing, Ink, SMALL, Stroke};

/// One plot's residual.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct Residual {
    /// Plot number, or the unit's name in a trial laid out elsewhere.
    pub plot: String,
    /// Fitted value.
    pub fitted: f64,
    /// Residual, in the response's unit.
    pub residual: f64,
    /// Standard normal quantile at the residual's rank.
    pub normal_quantile: f64,
    /// Far enough out to be looked at: named and in the warm accent.
    #[serde(default)]
    pub flagged: bool,
}

/// Residual plots of one response.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct ResidualChart {
    /// Names the chart.
    pub title: String,
    /// What it shows, for someone who cannot see it.
    #[serde(default)]
    pub description: String,
    /// Unit of the response; may be empty.
    #[serde(default)]
    pub unit: String,
    /// The residuals.
    pub points: Vec<Residual>,
    /// By which rule points are flagged; empty when none is.
    #[serde(default)]
    pub flag_text: String,
}

const PANEL: f64 = 160.0;
/// Height of panels that stand one above the other.
const STACKED_PANEL: f64 = 100.0;
const TOP: f64 = 26.0;
const GUTTER: f64 = 26.0;

/// One of the two panels.
struct Panel {
    heading: String,
    has_quartile_line: bool,
    x_title: String,
    x: fn(&Residual) -> f64,
}

/// Draws both panels, side by side or, on a phone, one above the other.
pub(super) fn draw(chart: &ResidualChart, width: f64) -> String {
    let points: Vec<&Residual> = chart
        .points
        .iter()
        .filter(|point| [point.fitted, point.residual, point.normal_quantile].into_iter().all(drawable))
        .collect();
    if points.is_empty() {
        return nothing_to_draw(width, &chart.title, &chart.description);
    }
    let unit = if chart.unit.is_empty() { String::new() } else { format!(" ({})", chart.unit) };
    let panels = [
        Panel {
            heading: format!("Residual{unit} against fitted value"),
            has_quartile_line: false,
            x_title: format!("Fitted value{unit}"),
            x: |point| point.fitted,
        },
        Panel {
            heading: format!("Residual{unit} against normal quantile"),
            has_quartile_line: true,
            x_title: "Normal quantile".to_string(),
            x: |point| point.normal_quantile,
        },
    ];
    let stacked = width < 400.0;
    let panel_width = if stacked { width } else { (width - GUTTER) / 2.0 };
    let panel_height = if stacked { STACKED_PANEL } else { PANEL };
    let mut drawing = Drawing::new(width);
    let mut below: f64 = 0.0;
    for (index, panel) in panels.iter().enumerate() {
        let corner = if stacked { (0.0, below) } else { (index as f64 * (panel_width + GUTTER), 0.0) };
        below = draw_panel(&mut drawing, panel, &points, corner, (panel_width, panel_height));
    }
    let below = notes(&mut drawing, (8.0, below), width - 16.0, &[&chart.flag_text]);
    drawing.finish(below + 6.0, &chart.title, &chart.description)
}

fn draw_panel(
    drawing: &mut Drawing,
    panel: &Panel,
    points: &[&Residual],
    (left, top): (f64, f64),
    (width, height): (f64, f64),
) -> f64 {
    let (inner_left, inner_right) = (left + 50.0, left + width - 12.0);
    let (inner_top, bottom) = (top + TOP, top + TOP + height);
    let range = |value: fn(&Residual) -> f64| extent(points.iter().map(|point| value(point))).unwrap_or((0.0, 0.0));
    let x = Scale::new(range(panel.x), (inner_left, inner_right), 4);
    let y = Scale::new(range(|point| point.residual), (bottom, inner_top), 5);
    drawing.text((left + 8.0, top + 14.0), &panel.heading, Ink::LABEL.bold().sized(SMALL + 1.0));
    left_axis(drawing, &y, (inner_left, inner_right));
    let middle = (inner_left + inner_right) / 2.0;
    let below = bottom_axis(drawing, &x, (inner_top, bottom), &panel.x_title, middle);
    if y.shows_zero() {
        drawing.line((inner_left, y.px(0.0)), (inner_right, y.px(0.0)), Stroke::new("gr-zero", INK, 1.0));
    }
    if panel.has_quartile_line {
        draw_quartile_line(drawing, points, &x, &y);
    }
    for point in points {
        draw_point(drawing, point, (x.px((panel.x)(point)), y.px(point.residual)), inner_right);
    }
    below
}

fn draw_point(drawing: &mut Drawing, point: &Residual, (x, y): (f64, f64), right: f64) {
    let colour = if point.flagged { ACCENT } else { INK };
    drawing.open("gr-plot", &[("data-plot", &point.plot)], &format!("Plot {}", point.plot));
    drawing.disc((x, y), 3.2, "gr-mark", if point.flagged { ACCENT } else { PAPER }, colour);
    if point.flagged {
        let (at, anchor) =
            if x > right - 40.0 { (x - 7.0, super::svg::Anchor::End) } else { (x + 7.0, super::svg::Anchor::Start) };
        drawing.text((at, y + 4.0), &point.plot, Ink::LABEL.sized(SMALL).anchored(anchor).coloured(ACCENT));
    }
    drawing.close();
}

/// The line through the quartiles of residuals and of quantiles: where the points of a normal sample would lie.
fn draw_quartile_line(drawing: &mut Drawing, points: &[&Residual], x: &Scale, y: &Scale) {
    if points.len() < 4 {
        return;
    }
    let quartiles = |value: fn(&Residual) -> f64| {
        let mut values: Vec<f64> = points.iter().map(|point| value(point)).collect();
        values.sort_by(f64::total_cmp);
        (quantile(&values, 0.25), quantile(&values, 0.75))
    };
    let (x1, x3) = quartiles(|point| point.normal_quantile);
    let (y1, y3) = quartiles(|point| point.residual);
    if x3 <= x1 {
        return;
    }
    let slope = (y3 - y1) / (x3 - x1);
    let (from, to) = extent(points.iter().map(|point| point.normal_quantile)).unwrap_or((x1, x3));
    let at = |value: f64| (x.px(value), y.px(y1 + slope * (value - x1)));
    drawing.line(at(from), at(to), Stroke::new("gr-reference", RULE, 1.8));
}

/// Quantile of sorted values by linear interpolation between order statistics.
fn quantile(sorted: &[f64], share: f64) -> f64 {
    let place = share * (sorted.len() - 1) as f64;
    let below = place.floor() as usize;
    let above = (below + 1).min(sorted.len() - 1);
    sorted[below] + (sorted[above] - sorted[below]) * (place - below as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quartiles_interpolate() {
        assert_eq!(quantile(&[1.0, 2.0, 3.0, 4.0, 5.0], 0.25), 2.0);
        assert_eq!(quantile(&[1.0, 2.0, 3.0, 4.0], 0.75), 3.25);
    }
}
