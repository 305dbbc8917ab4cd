//! Means of one factor at the levels of another: lines with their names at the end, intervals always shown.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Axis;
use super::frame::{amount_ticks, cut_note, left_axis, marker, notes, nothing_to_draw, upright_whisker};
use super::palette::{INK, series};
use super::scale::{Scale, drawable, extent, lines_range};
use super::svg::{Anchor, Drawing, Ink, SMALL, Stroke, TEXT};
use crate::typeface::{Weight, text_width, wrap};

/// One mean of a line.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct InteractionPoint {
    /// Place along x: the level's value, or for categories its index from 0.
    pub x: f64,
    /// The mean.
    pub mean: f64,
    /// Lower end of the interval.
    pub lower: f64,
    /// Upper end of the interval.
    pub upper: f64,
    /// The mean as printed.
    pub text: String,
}

/// One line of the chart.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct InteractionLine {
    /// The level of the other factor.
    pub label: String,
    /// Its means, in order of x.
    pub points: Vec<InteractionPoint>,
}

/// An interaction chart.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct InteractionChart {
    /// Names the chart.
    pub title: String,
    /// What it shows, for someone who cannot see it.
    #[serde(default)]
    pub description: String,
    /// The factor along x.
    pub x_axis: Axis,
    /// Its levels when they are categories; empty when x is quantitative, and then spaced by value.
    #[serde(default)]
    pub categories: Vec<String>,
    /// The response.
    pub y_axis: Axis,
    /// The levels of the other factor.
    pub lines: Vec<InteractionLine>,
    /// What the bars are.
    pub interval_text: String,
}

const HEIGHT: f64 = 200.0;
const TOP: f64 = 30.0;
/// Sideways step between neighbouring lines, so that their whiskers do not cover each other.
const DODGE: f64 = 7.0;

struct Plane<'a> {
    chart: &'a InteractionChart,
    x: Scale,
    y: Scale,
    right: f64,
    label_width: f64,
    bottom: f64,
}

impl<'a> Plane<'a> {
    fn of(chart: &'a InteractionChart, width: f64, y_range: (f64, f64), x_range: (f64, f64)) -> Self {
        let bottom = TOP + HEIGHT;
        let y = Scale::new(lines_range(y_range), (bottom, TOP), 5);
        let widest_tick =
            y.ticks().iter().map(|(_, text)| text_width(text, SMALL, Weight::Regular)).fold(0.0, f64::max);
        let left = widest_tick + 18.0;
        let widest_label =
            chart.lines.iter().map(|line| text_width(&line.label, TEXT, Weight::SemiBold)).fold(0.0, f64::max);
        let label_width = widest_label.min(width * 0.3);
        let right = width - label_width - 14.0;
        let inner = DODGE * chart.lines.len() as f64 / 2.0 + 14.0;
        let x = if chart.categories.is_empty() {
            Scale::tight(x_range, (left + inner, right - inner), if width < 400.0 { 4 } else { 7 })
        } else {
            let half = (right - left) / chart.categories.len() as f64 / 2.0;
            let last = chart.categories.len() as f64 - 1.0;
            Scale::tight((-0.5, last + 0.5), (left, left + half * 2.0 * (last + 1.0)), 1)
        };
        Self { chart, x, y, right, label_width, bottom }
    }

    fn dodge(&self, index: usize) -> f64 {
        (index as f64 - (self.chart.lines.len() as f64 - 1.0) / 2.0) * DODGE
    }

    fn left(&self) -> f64 {
        self.y.ticks().iter().map(|(_, text)| text_width(text, SMALL, Weight::Regular)).fold(0.0, f64::max) + 18.0
    }
}

/// Draws the chart.
pub(super) fn draw(chart: &InteractionChart, width: f64) -> String {
    let points = || chart.lines.iter().flat_map(|line| &line.points);
    let y_range = extent(points().flat_map(|point| [point.mean, point.lower, point.upper]));
    let x_range = extent(points().map(|point| point.x));
    let (Some(y_range), Some(x_range)) = (y_range, x_range) else {
        return nothing_to_draw(width, &chart.title, &chart.description);
    };
    let plane = Plane::of(chart, width, y_range, x_range);
    let mut drawing = Drawing::new(width);
    drawing.text((8.0, 15.0), &chart.y_axis.title(), Ink::LABEL.sized(SMALL + 0.5));
    left_axis(&mut drawing, &plane.y, (plane.left(), plane.right));
    let below = draw_x_axis(&mut drawing, &plane);
    for index in 0..chart.lines.len() {
        draw_line(&mut drawing, &plane, index);
    }
    draw_line_labels(&mut drawing, &plane);
    let below = notes(&mut drawing, (8.0, below), width - 16.0, &[&chart.interval_text, cut_note(&plane.y)]);
    drawing.finish(below + 6.0, &chart.title, &chart.description)
}

fn draw_x_axis(drawing: &mut Drawing, plane: &Plane<'_>) -> f64 {
    let (left, right, bottom) = (plane.left(), plane.right, plane.bottom);
    drawing.line((left, bottom), (right, bottom), Stroke::new("gr-axis", INK, 1.0));
    let lines =
        if plane.chart.categories.is_empty() { draw_values(drawing, plane) } else { draw_categories(drawing, plane) };
    let title_y = bottom + 22.0 + lines as f64 * 13.0;
    let ink = Ink::LABEL.sized(SMALL + 0.5).anchored(Anchor::Middle);
    drawing.text(((left + right) / 2.0, title_y), &plane.chart.x_axis.title(), ink);
    title_y + 8.0
}

fn draw_values(drawing: &mut Drawing, plane: &Plane<'_>) -> usize {
    let levels = plane.chart.lines.iter().flat_map(|line| &line.points).map(|point| point.x);
    for (value, text) in amount_ticks(&plane.x, levels) {
        let x = plane.x.px(value);
        drawing.line((x, plane.bottom), (x, plane.bottom + 4.0), Stroke::new("gr-axis", INK, 1.0));
        drawing.text((x, plane.bottom + 17.0), &text, Ink::TICK);
    }
    1
}

fn draw_categories(drawing: &mut Drawing, plane: &Plane<'_>) -> usize {
    let room = plane.x.px(1.0) - plane.x.px(0.0) - 6.0;
    let mut most = 1;
    for (index, category) in plane.chart.categories.iter().enumerate() {
        let lines = wrap(category, room, SMALL, Weight::Regular, 3);
        most = most.max(lines.len());
        for (line, text) in lines.iter().enumerate() {
            drawing.text((plane.x.px(index as f64), plane.bottom + 17.0 + line as f64 * 13.0), text, Ink::TICK);
        }
    }
    most
}

fn draw_line(drawing: &mut Drawing, plane: &Plane<'_>, index: usize) {
    let (line, style, dodge) = (&plane.chart.lines[index], series(index), plane.dodge(index));
    let points: Vec<&InteractionPoint> =
        line.points.iter().filter(|point| drawable(point.x) && drawable(point.mean)).collect();
    let place = |point: &InteractionPoint| (plane.x.px(point.x) + dodge, plane.y.px(point.mean));
    drawing.open("gr-line", &[("data-label", &line.label)], "");
    let course: Vec<(f64, f64)> = points.iter().map(|point| place(point)).collect();
    if course.len() > 1 {
        drawing.polyline(&course, Stroke::new("gr-line-course", style.colour, 1.8).dashed(style.dashes));
    }
    for point in points {
        let (x, y) = place(point);
        drawing.open("gr-point", &[], &format!("{}: {}", line.label, point.text));
        if drawable(point.lower) && drawable(point.upper) {
            upright_whisker(drawing, x, (plane.y.px(point.lower), plane.y.px(point.upper)), style.colour);
        }
        marker(drawing, (x, y), style.marker, style.colour);
        drawing.close();
    }
    drawing.close();
}

/// Names the lines at their right ends, moved apart where they would overlap.
fn draw_line_labels(drawing: &mut Drawing, plane: &Plane<'_>) {
    const GAP: f64 = 15.0;
    let mut labels: Vec<(usize, f64, Vec<String>)> = Vec::new();
    for (index, line) in plane.chart.lines.iter().enumerate() {
        if let Some(last) = line.points.iter().rev().find(|point| drawable(point.mean)) {
            let text = wrap(&line.label, plane.label_width, TEXT, Weight::SemiBold, 2);
            labels.push((index, plane.y.px(last.mean), text));
        }
    }
    labels.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut free = TOP - 4.0;
    for (_, y, text) in &mut labels {
        let height = text.len() as f64 * GAP;
        *y = (*y - (height - GAP) / 2.0).max(free);
        free = *y + height;
    }
    // Labels pushed below the plane move up together, as far as the top allows.
    let over = (free - GAP - plane.bottom).max(0.0);
    for (index, y, text) in labels {
        let style = series(index);
        marker(drawing, (plane.right + 1.0, y - over), style.marker, style.colour);
        for (line, text) in text.iter().enumerate() {
            let at = (plane.right + 10.0, y - over + 4.5 + line as f64 * GAP);
            drawing.text(at, text, Ink::LABEL.bold().coloured(style.colour));
        }
    }
}
