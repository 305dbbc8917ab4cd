//! What charts share: axes with grid lines and ticks, whiskers, markers, the lines of notes under the axis.

use super::palette::{INK, Marker, PAPER, RULE, SOFT};
use super::scale::{Scale, drawable, number_text};
use super::svg::{Anchor, Drawing, Ink, SMALL, Stroke, num};
use crate::typeface::{Weight, text_width, wrap};

/// Height of one line of small text.
pub(super) const NOTE_LINE: f64 = 15.0;

/// Draws vertical grid lines from `top` to `bottom` with tick texts below, and the title below them.
/// Returns the y below which the next thing may be drawn.
pub(super) fn bottom_axis(
    drawing: &mut Drawing,
    scale: &Scale,
    (top, bottom): (f64, f64),
    title: &str,
    middle: f64,
) -> f64 {
    for (value, text) in scale.ticks() {
        let x = scale.px(value);
        drawing.line((x, top), (x, bottom), Stroke::new("gr-grid", RULE, 1.0));
        drawing.text((x, bottom + 15.0), &text, Ink::TICK);
    }
    drawing.text((middle, bottom + 33.0), title, Ink::LABEL.anchored(Anchor::Middle).sized(SMALL + 0.5));
    bottom + 42.0
}

/// Draws horizontal grid lines from `left` to `right` with tick texts at the left.
pub(super) fn left_axis(drawing: &mut Drawing, scale: &Scale, (left, right): (f64, f64)) {
    for (value, text) in scale.ticks() {
        let y = scale.px(value);
        drawing.line((left, y), (right, y), Stroke::new("gr-grid", RULE, 1.0));
        drawing.text((left - 7.0, y + 4.0), &text, Ink::TICK.anchored(Anchor::End));
    }
}

/// Ticks of an axis of amounts: at the levels themselves when they are few and stand apart, otherwise at round numbers.
pub(super) fn amount_ticks(scale: &Scale, levels: impl IntoIterator<Item = f64>) -> Vec<(f64, String)> {
    let levels = level_texts(levels);
    // A neighbour's text ends before the next begins.
    let half = |text: &str| text_width(text, SMALL, Weight::Regular) / 2.0;
    let apart = levels.windows(2).all(|pair| {
        let between = scale.px(pair[1].0) - scale.px(pair[0].0);
        between > (half(&pair[0].1) + half(&pair[1].1) + 5.0).max(16.0)
    });
    if levels.len() <= 9 && apart { levels } else { scale.ticks() }
}

/// Levels in order with as few decimals as they need.
fn level_texts(levels: impl IntoIterator<Item = f64>) -> Vec<(f64, String)> {
    let mut levels: Vec<f64> = levels.into_iter().filter(|level| drawable(*level)).collect();
    levels.sort_by(f64::total_cmp);
    levels.dedup();
    let is_exact = |decimals: usize| levels.iter().all(|level| format!("{level:.decimals$}").parse() == Ok(*level));
    let decimals = (0..4).find(|decimals| is_exact(*decimals)).unwrap_or(4);
    levels.into_iter().map(|level| (level, number_text(level, decimals))).collect()
}

/// Draws notes under a chart, broken to its width. Returns the y below them.
pub(super) fn notes(drawing: &mut Drawing, (left, y): (f64, f64), width: f64, notes: &[&str]) -> f64 {
    let mut y = y;
    for note in notes.iter().filter(|note| !note.is_empty()) {
        for line in wrap(note, width, SMALL, Weight::Regular, 6) {
            y += NOTE_LINE;
            drawing.text((left, y - 3.0), &line, Ink::LABEL.sized(SMALL).coloured(SOFT));
        }
    }
    y
}

/// The sentence for an axis that was cut; empty for one that shows zero.
pub(super) fn cut_note(scale: &Scale) -> &'static str {
    if scale.shows_zero() { "" } else { "The axis does not start at zero." }
}

/// Half the length of a whisker's end stroke.
const CAP: f64 = 4.0;

/// A whisker along x at height `y`, its ends at the data.
pub(super) fn level_whisker(drawing: &mut Drawing, (from, to): (f64, f64), y: f64, colour: &str) {
    let stroke = Stroke::new("gr-interval", colour, 1.6);
    drawing.line((from, y), (to, y), stroke);
    for x in [from, to] {
        drawing.line((x, y - CAP), (x, y + CAP), stroke);
    }
}

/// A whisker along y at `x`.
pub(super) fn upright_whisker(drawing: &mut Drawing, x: f64, (from, to): (f64, f64), colour: &str) {
    let stroke = Stroke::new("gr-interval", colour, 1.4);
    drawing.line((x, from), (x, to), stroke);
    for y in [from, to] {
        drawing.line((x - CAP + 0.5, y), (x + CAP - 0.5, y), stroke);
    }
}

/// A point's marker.
pub(super) fn marker(drawing: &mut Drawing, (x, y): (f64, f64), marker: Marker, colour: &'static str) {
    match marker {
        Marker::Disc => drawing.disc((x, y), 4.0, "gr-mark", colour, colour),
        Marker::Ring => drawing.disc((x, y), 4.0, "gr-mark", PAPER, colour),
        Marker::Square => drawing.rect((x - 4.0, y - 4.0), (8.0, 8.0), "gr-mark", colour),
        Marker::Triangle => polygon(drawing, &[(x, y - 5.0), (x + 5.0, y + 4.0), (x - 5.0, y + 4.0)], colour),
        Marker::Diamond => polygon(drawing, &[(x, y - 5.5), (x + 5.0, y), (x, y + 5.5), (x - 5.0, y)], colour),
        Marker::Cross => {
            let stroke = Stroke::new("gr-mark", colour, 2.2);
            drawing.line((x - 4.0, y - 4.0), (x + 4.0, y + 4.0), stroke);
            drawing.line((x - 4.0, y + 4.0), (x + 4.0, y - 4.0), stroke);
        }
    }
}

/// A filled shape with straight sides.
pub(super) fn polygon(drawing: &mut Drawing, corners: &[(f64, f64)], fill: &str) {
    let shape: Vec<String> = corners.iter().map(|&(x, y)| format!("{} {}", num(x), num(y))).collect();
    drawing.path(&format!("M{}Z", shape.join("L")), "gr-shape", fill);
}

/// The drawing for a chart without a value that can be drawn.
pub(super) fn nothing_to_draw(width: f64, title: &str, description: &str) -> String {
    let mut drawing = Drawing::new(width);
    drawing.text((8.0, 26.0), "No values to draw.", Ink::LABEL.coloured(INK));
    drawing.finish(40.0, title, description)
}
