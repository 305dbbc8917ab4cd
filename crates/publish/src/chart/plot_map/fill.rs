//! What the fill of plots shows, and the key of a map of values.

use super::super::frame::{NOTE_LINE, polygon};
use super::super::palette::{BAND, INK, PAPER, SOFT, above_below, shade, text_on_shade, tint};
use super::super::scale::{drawable, extent};
use super::super::svg::{Drawing, Ink, SMALL, Stroke};
use crate::map::{ColourBy, MapPlot, MapView};
use crate::typeface::{Weight, text_width};

/// A residual that is filled full, in units of its error; the scale is the same for all maps.
const FARTHEST: f64 = 3.0;

/// What the fill of plots shows, with the range of the values.
pub(super) struct Fill<'a> {
    map: &'a MapView,
    values: Option<(f64, f64)>,
}

impl<'a> Fill<'a> {
    pub fn of(map: &'a MapView) -> Self {
        let values = extent(map.plots.iter().filter_map(|plot| plot.value));
        Self { map, values }
    }

    /// Fill and text colour.
    pub fn of_plot(&self, plot: &MapPlot) -> (String, &'static str) {
        if plot.guard {
            return (BAND.to_string(), SOFT);
        }
        match self.map.colour_by {
            ColourBy::None => (PAPER.to_string(), INK),
            ColourBy::Replicate if plot.replicate.unwrap_or(1).is_multiple_of(2) => ("#f3f1ea".to_string(), INK),
            ColourBy::Replicate => (PAPER.to_string(), INK),
            ColourBy::Treatment if self.map.blind => (PAPER.to_string(), INK),
            ColourBy::Treatment => (plot.tint.map_or(PAPER, |index| tint(index as usize)).to_string(), INK),
            ColourBy::Value => match self.share(plot) {
                Some(share) => (shade(share), text_on_shade(share)),
                None => (PAPER.to_string(), INK),
            },
            ColourBy::Residual => match plot.value.filter(|value| drawable(*value)) {
                Some(value) => (above_below(value / FARTHEST), INK),
                None => (PAPER.to_string(), INK),
            },
        }
    }

    /// The plot's value as a share of the range of values; the middle when all are equal.
    fn share(&self, plot: &MapPlot) -> Option<f64> {
        let (low, high) = self.values?;
        let value = plot.value.filter(|value| drawable(*value))?;
        Some(if high > low { (value - low) / (high - low) } else { 0.5 })
    }

    /// The key of a value map: its range from light to dark. Other maps need none.
    pub fn draw_key(&self, drawing: &mut Drawing, (left, top): (f64, f64)) -> f64 {
        let map = self.map;
        if map.colour_by == ColourBy::Residual && self.values.is_some() {
            return self.draw_residual_key(drawing, (left, top));
        }
        let (ColourBy::Value, Some(_)) = (map.colour_by, self.values) else { return top };
        let printed = |pick: fn(f64, f64) -> bool| {
            map.plots.iter().filter(|plot| plot.value.is_some_and(drawable)).fold(None::<&MapPlot>, |best, plot| {
                match best {
                    Some(best) if !pick(plot.value.unwrap_or(0.0), best.value.unwrap_or(0.0)) => Some(best),
                    _ => Some(plot),
                }
            })
        };
        let low = printed(|a, b| a < b).map_or("", |plot| &plot.value_text);
        let high = printed(|a, b| a > b).map_or("", |plot| &plot.value_text);
        let y = top + 14.0;
        let ink = Ink::LABEL.sized(SMALL);
        drawing.text((left, y), &map.value_label, ink);
        let mut x = left + text_width(&map.value_label, SMALL, Weight::Regular) + 14.0;
        drawing.text((x, y), low, ink);
        x += text_width(low, SMALL, Weight::Regular) + 6.0;
        for step in 0..10 {
            drawing.rect((x, y - 10.0), (12.0, 12.0), "gr-shade", &shade(f64::from(step) / 9.0));
            x += 12.0;
        }
        drawing.text((x + 6.0, y), high, ink);
        x += text_width(high, SMALL, Weight::Regular) + 24.0;
        self.draw_no_value_key(drawing, (left, x), y)
    }

    /// From far below to far above, with the marks of both signs.
    fn draw_residual_key(&self, drawing: &mut Drawing, (left, top): (f64, f64)) -> f64 {
        let y = top + 14.0;
        let ink = Ink::LABEL.sized(SMALL);
        let mut x = word(drawing, (left, y), &self.map.value_label) + 14.0;
        x = word(drawing, (x, y), "−3") + 6.0;
        for step in 0..9 {
            let fill = above_below(f64::from(step) / 4.0 - 1.0);
            drawing.rect((x, y - 10.0), (12.0, 12.0), "gr-shade", &fill);
            x += 12.0;
        }
        x = word(drawing, (x + 6.0, y), "+3") + 16.0;
        if x + 150.0 > drawing.width() {
            // On a phone the marks stand on a line of their own.
            let below = y + NOTE_LINE;
            draw_sign(drawing, 1.0, (left + 5.0, below - 4.0));
            drawing.text((left + 14.0, below), "above", ink);
            draw_sign(drawing, -1.0, (left + 65.0, below - 4.0));
            drawing.text((left + 74.0, below), "below the fitted value", ink);
            return self.draw_no_value_key(drawing, (left, drawing.width()), below);
        }
        draw_sign(drawing, 1.0, (x + 4.0, y - 4.0));
        x = word(drawing, (x + 12.0, y), "above") + 14.0;
        draw_sign(drawing, -1.0, (x + 4.0, y - 4.0));
        x = word(drawing, (x + 12.0, y), "below") + 18.0;
        self.draw_no_value_key(drawing, (left, x), y)
    }

    /// What the hatching means, where a plot is hatched: at `x`, or on a line of its own. Returns the y below it.
    fn draw_no_value_key(&self, drawing: &mut Drawing, (left, x): (f64, f64), y: f64) -> f64 {
        if self.map.plots.iter().all(|plot| plot.guard || plot.value.is_some()) {
            return y + 8.0;
        }
        let fits = x + text_width("hatched: no value", SMALL, Weight::Regular) < drawing.width() - 4.0;
        let at = if fits { (x, y) } else { (left, y + NOTE_LINE) };
        drawing.text(at, "hatched: no value", Ink::LABEL.sized(SMALL).coloured(SOFT));
        at.1 + 8.0
    }
}

/// Writes a word of the key. Returns where it ends.
fn word(drawing: &mut Drawing, (x, y): (f64, f64), text: &str) -> f64 {
    drawing.text((x, y), text, Ink::LABEL.sized(SMALL));
    x + text_width(text, SMALL, Weight::Regular)
}

/// The mark of a residual's sign, which is read in grey: a filled triangle up for above, a hollow one down for below.
pub(super) fn draw_sign(drawing: &mut Drawing, value: f64, (x, y): (f64, f64)) {
    if value > 0.0 {
        polygon(drawing, &[(x, y - 3.5), (x + 4.0, y + 3.0), (x - 4.0, y + 3.0)], INK);
    } else if value < 0.0 {
        let corners = [(x - 3.5, y - 2.5), (x + 3.5, y - 2.5), (x, y + 3.5), (x - 3.5, y - 2.5)];
        drawing.polyline(&corners, Stroke::new("gr-mark", INK, 1.1));
    }
}
