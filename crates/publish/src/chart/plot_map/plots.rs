//! One plot of the map: its fill, its edge, its number and what stands under it.

use super::super::palette::RULE;
use super::super::svg::{Anchor, Drawing, Ink, Stroke};
use super::fill::{Fill, draw_sign};
use super::{Grid, line_height};
use crate::map::{ColourBy, MapPlot, MapView};
use crate::typeface::{Weight, shorten, text_width, wrap};

/// How far the mark of a chosen plot lies inside its edge: the outlines of replicates and main plots stay visible.
const MARK_INSET: f64 = 3.5;

/// Draws a plot as one group with its title; `gr-plot-mark` is the frame that a page shows on the plot that is chosen.
pub(super) fn draw_plot(drawing: &mut Drawing, grid: &Grid<'_>, plot: &MapPlot, fill: &Fill<'_>) {
    let (x, y) = grid.corner(plot.range, plot.pass);
    let (colour, ink) = fill.of_plot(plot);
    let number = plot.number.map(|number| number.to_string()).unwrap_or_default();
    let data = [("data-plot", number.as_str())];
    let class = if plot.guard { "gr-plot gr-guard" } else { "gr-plot" };
    drawing.open(class, if number.is_empty() { &[] } else { &data }, &plot_title(grid.map, plot));
    let shaded = grid.map.colour_by.shows_values() && !plot.guard;
    let filled = if shaded && plot.value.is_some() { "gr-plot-fill gr-shade" } else { "gr-plot-fill" };
    drawing.rect((x, y), grid.cell, filled, &colour);
    if shaded && plot.value.is_none() {
        draw_hatching(drawing, (x, y), grid.cell);
    }
    draw_thin_frame(drawing, (x, y), grid.cell);
    let inside = (grid.cell.0 - 2.0 * MARK_INSET, grid.cell.1 - 2.0 * MARK_INSET);
    drawing.rect((x + MARK_INSET, y + MARK_INSET), inside, "gr-plot-mark", "none");
    if let (ColourBy::Residual, false, Some(value)) = (grid.map.colour_by, plot.guard, plot.value) {
        draw_sign(drawing, value, (x + grid.cell.0 - 7.0, y + 7.0));
    }
    draw_plot_text(drawing, grid, plot, (x, y), ink);
    drawing.close();
}

/// What a pointer over the plot reads, and the name of the plot for who hears the page; a blind map tells no treatment.
fn plot_title(map: &MapView, plot: &MapPlot) -> String {
    let mut title = match plot.number {
        Some(number) => format!("Plot {number}"),
        None => "Guard plot".to_string(),
    };
    if !map.blind && !plot.treatment.is_empty() {
        title.push_str(&format!(" {}", plot.treatment));
    }
    if !plot.value_text.is_empty() {
        title.push_str(&format!(", {}", plot.value_text));
    }
    match plot.replicate {
        Some(replicate) => title.push_str(&format!("; replicate {replicate}, ")),
        None => title.push_str("; "),
    }
    title + &format!("range {}, pass {}", plot.range, plot.pass)
}

fn draw_thin_frame(drawing: &mut Drawing, (x, y): (f64, f64), (width, height): (f64, f64)) {
    let corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y)];
    drawing.polyline(&corners, Stroke::new("gr-plot-edge", "#8d8879", 0.7));
}

fn draw_hatching(drawing: &mut Drawing, (x, y): (f64, f64), (width, height): (f64, f64)) {
    let mut offset = 8.0;
    while offset < width + height {
        let from = (x + offset.min(width), y + (offset - width).max(0.0));
        let to = (x + (offset - height).max(0.0), y + offset.min(height));
        drawing.line(from, to, Stroke::new("gr-hatch", RULE, 1.0));
        offset += 8.0;
    }
}

fn draw_plot_text(drawing: &mut Drawing, grid: &Grid<'_>, plot: &MapPlot, (x, y): (f64, f64), colour: &'static str) {
    let (width, height) = grid.cell;
    let room = width - 5.0;
    let middle = x + width / 2.0;
    let number = plot.number.map_or_else(|| "guard".to_string(), |number| number.to_string());
    let below = if grid.map.colour_by.shows_values() {
        plot.value_text.clone()
    } else if grid.map.blind {
        String::new()
    } else if let (true, Some(number)) = (grid.numbers_only, plot.treatment_number) {
        number.to_string()
    } else {
        plot.treatment.clone()
    };
    let largest = match (plot.guard, below.is_empty()) {
        (true, _) => 11.0,
        (false, true) => (height * 0.5).min(40.0),
        (false, false) => grid.sizes.0,
    };
    let size = fitting_size(&number, room, largest);
    let ink = Ink::LABEL.coloured(colour).anchored(Anchor::Middle);
    let number_ink = if plot.guard { ink.sized(size) } else { ink.sized(size).bold() };
    if below.is_empty() || plot.guard {
        drawing.text(
            (middle, y + height / 2.0 + size * 0.35),
            &shorten(&number, room, size, number_ink.weight),
            number_ink,
        );
        return;
    }
    let small = if grid.numbers_only { grid.sizes.1.max(10.0) } else { grid.sizes.1 };
    let line_height = line_height(small);
    let most = ((height - size - 5.0) / line_height).floor().max(1.0) as usize;
    let lines = wrap(&below, room, small, Weight::Regular, most);
    // Digits are about seven tenths of their type size high; what is left over is shared above and below.
    let used = size * 0.72 + 3.0 + line_height * lines.len() as f64;
    let number_y = y + ((height - used) / 2.0).max(2.0) + size * 0.72;
    drawing.text((middle, number_y), &number, number_ink);
    for (index, line) in lines.iter().enumerate() {
        let line_y = number_y + 2.0 + line_height * (index as f64 + 1.0);
        drawing.text((middle, line_y), line, ink.sized(small));
    }
}

/// The largest size up to `most` at which the text fits the room.
fn fitting_size(text: &str, room: f64, most: f64) -> f64 {
    let width = text_width(text, 1.0, Weight::SemiBold);
    if width > 0.0 { (room / width).min(most).max(4.0) } else { most }
}
