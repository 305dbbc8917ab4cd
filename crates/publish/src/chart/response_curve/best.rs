//! The strip of best amounts between plane and axis: a mark, its interval along the axis, the words under the ticks.

use super::super::frame::{marker, polygon};
use super::super::palette::{INK, Marker, PAPER, SOFT};
use super::super::scale::{Scale, drawable};
use super::super::svg::{Drawing, SMALL, Stroke};
use super::panel::{Frame, LINE, small_text};
use super::{BestKind, BestMark, CurvePanel};
use crate::typeface::{Weight, wrap};

/// Height of one best amount in the strip.
const ROW: f64 = 14.0;
/// Room that a mark takes before its words.
const MARK: f64 = 14.0;

fn marks(panel: &CurvePanel) -> impl Iterator<Item = &BestMark> {
    panel.best.iter().filter(|mark| drawable(mark.amount))
}

/// Height of the strip; nothing without a best amount.
pub(super) fn strip_height(panel: &CurvePanel) -> f64 {
    let count = marks(panel).count() as f64;
    if count > 0.0 { ROW * count + 4.0 } else { 0.0 }
}

fn lines_of(mark: &BestMark, width: f64) -> Vec<String> {
    wrap(&mark.text, width - MARK, SMALL, Weight::Regular, 3)
}

/// Lines of words under the ticks.
pub(super) fn text_lines(panel: &CurvePanel, width: f64) -> usize {
    marks(panel).map(|mark| lines_of(mark, width).len()).sum()
}

pub(super) fn draw_best(drawing: &mut Drawing, panel: &CurvePanel, frame: Frame, x: &Scale, y: &Scale) {
    let mut text_y = frame.axis() + 32.0;
    for (index, mark) in marks(panel).enumerate() {
        let row = frame.bottom() + 4.0 + ROW * (index as f64 + 0.5);
        drawing.open("gr-best", &[], &mark.text);
        draw_interval(drawing, mark, frame, x, row);
        let at = x.px(mark.amount).clamp(frame.left + 6.0, frame.right - 6.0);
        if let Some(value) = value_at(panel, mark.amount) {
            let stroke = Stroke::new("gr-best-line", SOFT, 1.0).dashed("2 3");
            drawing.line((at, y.px(value)), (at, row - 6.0), stroke);
        }
        draw_mark(drawing, mark.kind, (at, row));
        drawing.close();
        for (line, text) in lines_of(mark, frame.right - frame.left).iter().enumerate() {
            if line == 0 {
                draw_mark(drawing, mark.kind, (frame.left + 5.0, text_y - 4.0));
            }
            small_text(drawing, (frame.left + MARK, text_y), text);
            text_y += LINE;
        }
    }
}

/// A triangle for the highest response, a hollow diamond for the highest return: told apart without colour.
fn draw_mark(drawing: &mut Drawing, kind: BestKind, (x, y): (f64, f64)) {
    match kind {
        BestKind::Response => marker(drawing, (x, y), Marker::Triangle, INK),
        BestKind::Return => {
            marker(drawing, (x, y), Marker::Diamond, INK);
            polygon(drawing, &[(x, y - 2.8), (x + 2.5, y), (x, y + 2.8), (x - 2.5, y)], PAPER);
        }
    }
}

/// An end that nothing bounds, or that lies outside the plane, is an arrow.
fn draw_interval(drawing: &mut Drawing, mark: &BestMark, frame: Frame, x: &Scale, row: f64) {
    if !mark.has_interval {
        return;
    }
    let (first, last) = (frame.left + 2.0, frame.right - 2.0);
    let inside = |end: Option<f64>| {
        let at = end.filter(|end| drawable(*end)).map(|end| x.px(end));
        at.filter(|at| (first..=last).contains(at))
    };
    let (lower, upper) = (inside(mark.lower), inside(mark.upper));
    // An interval wholly on one side of the plane would be drawn across it.
    if mark.lower.is_some_and(|lower| x.px(lower) > last) || mark.upper.is_some_and(|upper| x.px(upper) < first) {
        return;
    }
    let (from, to) = (lower.unwrap_or(first), upper.unwrap_or(last));
    let stroke = Stroke::new("gr-interval", INK, 1.8);
    drawing.line((from, row), (to, row), stroke);
    for (end, at, inward) in [(lower, from, 6.0), (upper, to, -6.0)] {
        match end {
            Some(_) => drawing.line((at, row - 4.0), (at, row + 4.0), stroke),
            None => polygon(drawing, &[(at, row), (at + inward, row - 4.0), (at + inward, row + 4.0)], INK),
        }
    }
}

/// The curve at an amount, between its drawn points; none outside them.
fn value_at(panel: &CurvePanel, amount: f64) -> Option<f64> {
    let pair = panel.course.windows(2).find(|pair| pair[0].amount <= amount && amount <= pair[1].amount)?;
    let width = pair[1].amount - pair[0].amount;
    let share = if width > 0.0 { (amount - pair[0].amount) / width } else { 0.0 };
    Some(pair[0].value + share * (pair[1].value - pair[0].value)).filter(|value| drawable(*value))
}
