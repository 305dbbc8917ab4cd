//! One panel: band, grid, plots, curve, means, and the strip of best amounts under the axis.

use super::super::frame::{amount_ticks, left_axis, marker, polygon, upright_whisker};
use super::super::palette::{BAND, BAND_EDGE, INK, Marker, RULE, SOFT, series};
use super::super::scale::{Scale, drawable};
use super::super::svg::{Anchor, Drawing, Ink, SMALL, Stroke, TEXT};
use super::best::{draw_best, text_lines};
use super::{CurvePanel, CurvePoint, MeanAtAmount};
use crate::typeface::{Weight, shorten};

/// Where a panel stands.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    pub left: f64,
    pub right: f64,
    /// Top of the plane, below the heading.
    pub top: f64,
    /// Height of the plane.
    pub height: f64,
    /// Height of the strip of best amounts below it.
    pub strip: f64,
    /// Whether the values of the response stand at its left.
    pub has_ticks: bool,
}

impl Frame {
    pub fn bottom(&self) -> f64 {
        self.top + self.height
    }

    /// Where the axis of the amounts lies.
    pub fn axis(&self) -> f64 {
        self.bottom() + self.strip
    }
}

/// Height of a line of small text.
pub(super) const LINE: f64 = 14.0;
/// Room for the texts of the ticks.
const TICKS: f64 = 20.0;
/// Room between the frame and the outermost amounts, so that their marks stand inside.
const INNER: f64 = 12.0;

/// Height of the heading.
pub(super) fn head_height(panel: &CurvePanel) -> f64 {
    let lines = [&panel.label, &panel.curve_text].into_iter().filter(|text| !text.is_empty()).count();
    6.0 + LINE * lines as f64
}

/// Height of all that stands under the axis.
pub(super) fn foot_height(panel: &CurvePanel, width: f64) -> f64 {
    TICKS + LINE * text_lines(panel, width) as f64 + 6.0
}

pub(super) fn draw_panel(
    drawing: &mut Drawing,
    panel: &CurvePanel,
    frame: Frame,
    x_range: (f64, f64),
    y_range: (f64, f64),
) {
    let x = Scale::tight(x_range, (frame.left + INNER, frame.right - INNER), 4);
    let ticks = if frame.height > 200.0 { 6 } else { 5 };
    let y = Scale::new(y_range, (frame.bottom(), frame.top), ticks);
    drawing.open("gr-panel", &[("data-label", &panel.label)], "");
    draw_heading(drawing, panel, frame);
    draw_band(drawing, &panel.course, &x, &y);
    draw_grid(drawing, &y, frame);
    draw_plots(drawing, panel, &x, &y);
    draw_curve(drawing, &panel.course, &x, &y);
    for mean in panel.means.iter().filter(|mean| drawable(mean.amount) && drawable(mean.mean)) {
        draw_mean(drawing, mean, &x, &y);
    }
    draw_best(drawing, panel, frame, &x, &y);
    let axis = frame.axis();
    let amounts = panel.means.iter().map(|mean| mean.amount).chain(panel.plots.iter().map(|plot| plot.amount));
    for (value, text) in amount_ticks(&x, amounts) {
        let at = x.px(value);
        drawing.line((at, axis), (at, axis + 4.0), Stroke::new("gr-axis", INK, 1.0));
        drawing.text((at, axis + 16.0), &text, Ink::TICK);
    }
    drawing.line((frame.left, axis), (frame.right, axis), Stroke::new("gr-axis", INK, 1.0));
    drawing.close();
}

fn draw_heading(drawing: &mut Drawing, panel: &CurvePanel, frame: Frame) {
    let room = frame.right - frame.left;
    let mut y = frame.top - 6.0;
    if !panel.curve_text.is_empty() {
        let text = shorten(&panel.curve_text, room, SMALL, Weight::Regular);
        drawing.text((frame.left, y), &text, Ink::LABEL.sized(SMALL).coloured(SOFT));
        y -= LINE;
    }
    if !panel.label.is_empty() {
        drawing.text((frame.left, y), &shorten(&panel.label, room, TEXT, Weight::SemiBold), Ink::LABEL.bold());
    }
}

fn draw_grid(drawing: &mut Drawing, y: &Scale, frame: Frame) {
    if frame.has_ticks {
        left_axis(drawing, y, (frame.left, frame.right));
        return;
    }
    for (value, _) in y.ticks() {
        let at = y.px(value);
        drawing.line((frame.left, at), (frame.right, at), Stroke::new("gr-grid", RULE, 1.0));
    }
}

/// The interval of the curve: a pale ground with edges of its own, so that it is seen in grey too.
fn draw_band(drawing: &mut Drawing, course: &[CurvePoint], x: &Scale, y: &Scale) {
    let known = |point: &&CurvePoint| {
        let ends = [Some(point.amount), point.lower, point.upper];
        ends.into_iter().all(|end| end.is_some_and(drawable))
    };
    let known: Vec<&CurvePoint> = course.iter().filter(known).collect();
    if known.len() < 2 {
        return;
    }
    let edge = |end: fn(&CurvePoint) -> Option<f64>| {
        let place = |point: &&CurvePoint| Some((x.px(point.amount), y.px(end(point)?)));
        known.iter().filter_map(place).collect::<Vec<(f64, f64)>>()
    };
    let (lower, upper) = (edge(|point| point.lower), edge(|point| point.upper));
    let around: Vec<(f64, f64)> = lower.iter().chain(upper.iter().rev()).copied().collect();
    drawing.open("gr-band", &[], "");
    polygon(drawing, &around, BAND);
    for edge in [lower, upper] {
        drawing.polyline(&edge, Stroke::new("gr-band-edge", BAND_EDGE, 0.9));
    }
    drawing.close();
}

/// Plots stand at their amounts exactly; a mean's bar leaves both halves of a dot to be seen.
fn draw_plots(drawing: &mut Drawing, panel: &CurvePanel, x: &Scale, y: &Scale) {
    /// Between the band's edge and ink.
    const FAINT: &str = "#8d8879";
    for plot in panel.plots.iter().filter(|plot| drawable(plot.amount) && drawable(plot.value)) {
        drawing.open("gr-plot", &[("data-plot", &plot.plot)], &format!("Plot {}", plot.plot));
        drawing.disc((x.px(plot.amount), y.px(plot.value)), 1.9, "gr-mark", FAINT, FAINT);
        drawing.close();
    }
}

fn draw_curve(drawing: &mut Drawing, course: &[CurvePoint], x: &Scale, y: &Scale) {
    let known = course.iter().filter(|point| drawable(point.amount) && drawable(point.value));
    let places: Vec<(f64, f64)> = known.map(|point| (x.px(point.amount), y.px(point.value))).collect();
    if places.len() > 1 {
        drawing.polyline(&places, Stroke::new("gr-line-course", series(0).colour, 2.0));
    }
}

fn draw_mean(drawing: &mut Drawing, mean: &MeanAtAmount, x: &Scale, y: &Scale) {
    let at = (x.px(mean.amount), y.px(mean.mean));
    drawing.open("gr-point", &[], &mean.text);
    if let (Some(lower), Some(upper)) = (mean.lower.filter(|it| drawable(*it)), mean.upper.filter(|it| drawable(*it))) {
        upright_whisker(drawing, at.0, (y.px(lower), y.px(upper)), INK);
    }
    marker(drawing, at, Marker::Ring, INK);
    drawing.close();
}

/// One line of small text from `left`, its first letter at `x`.
pub(super) fn small_text(drawing: &mut Drawing, at: (f64, f64), text: &str) {
    drawing.text(at, text, Ink::LABEL.sized(SMALL).anchored(Anchor::Start));
}
