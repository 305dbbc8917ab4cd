//! What the fill of plots shows, and the key of a map of values.

use super::super::frame::NOTE_LINE;
use super::super::palette::{BAND, INK, PAPER, SOFT, shade, text_on_shade, tint};
use super::super::scale::{drawable, extent};
use super::super::svg::{Drawing, Ink, SMALL};
use crate::map::{ColourBy, MapPlot, MapView};
use crate::typeface::{Weight, text_width};

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
        if map.plots.iter().any(|plot| !plot.guard && plot.value.is_none()) {
            let fits = x + text_width("hatched: no value", SMALL, Weight::Regular) < drawing.width() - 4.0;
            let at = if fits { (x, y) } else { (left, y + NOTE_LINE) };
            drawing.text(at, "hatched: no value", ink.coloured(SOFT));
            return at.1 + 8.0;
        }
        y + 8.0
    }
}
