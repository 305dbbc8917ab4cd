//! The plot map: plots at their places, replicates and main plots outlined, where the first pass starts and north.
//!
//! Not to scale: plots are drawn wide enough to be read; their size in metres stands in the line above the map.

use super::compass::{draw_north, draw_passes};
use super::frame::{NOTE_LINE, notes, nothing_to_draw};
use super::palette::{BAND, INK, PAPER, RULE, SOFT, shade, text_on_shade, tint};
use super::scale::{drawable, extent};
use super::svg::{Anchor, Drawing, Ink, SMALL, Stroke};
use crate::map::{ColourBy, Corner, MapPlot, MapView};
use crate::typeface::{Weight, shorten, text_width, wrap};

/// More ranges or passes than this are not a small-plot trial but a typing error; they are not drawn.
const MOST: u32 = 400;

/// The map's grid on the drawing.
pub(super) struct Grid<'a> {
    pub map: &'a MapView,
    pub ranges: u32,
    pub passes: u32,
    pub left: f64,
    pub top: f64,
    pub cell: (f64, f64),
    /// Plots are too narrow for the treatments' words: their numbers are drawn instead.
    numbers_only: bool,
}

impl Grid<'_> {
    /// Upper left corner of a plot.
    pub fn corner(&self, range: u32, pass: u32) -> (f64, f64) {
        // Plots 0 lie just outside the grid: the edge of the trial is found beside them.
        let (range, pass) = (f64::from(range), f64::from(pass));
        let column = if self.starts_at_right() { f64::from(self.passes) - pass } else { pass - 1.0 };
        let row = if self.starts_at_top() { range - 1.0 } else { f64::from(self.ranges) - range };
        (self.left + column * self.cell.0, self.top + row * self.cell.1)
    }

    fn starts_at_right(&self) -> bool {
        matches!(self.map.start_corner, Corner::BottomRight | Corner::TopRight)
    }

    pub fn starts_at_top(&self) -> bool {
        matches!(self.map.start_corner, Corner::TopLeft | Corner::TopRight)
    }

    pub fn right(&self) -> f64 {
        self.left + f64::from(self.passes) * self.cell.0
    }

    pub fn bottom(&self) -> f64 {
        self.top + f64::from(self.ranges) * self.cell.1
    }
}

/// Draws a map at page width, as [`super::draw`] does; `height` limits the plots' height for a given sheet (px).
pub fn plot_map(map: &MapView, width: f64, height: f64) -> String {
    draw_within(map, width.clamp(200.0, 4000.0), height.clamp(150.0, 4000.0))
}

pub(super) fn draw(map: &MapView, width: f64) -> String {
    draw_within(map, width, f64::INFINITY)
}

const LEFT: f64 = 58.0;
const RIGHT: f64 = 56.0;
const TOP: f64 = 62.0;

fn draw_within(map: &MapView, width: f64, height: f64) -> String {
    let title = if map.blind {
        format!("Plot map of {}, blind", map.trial_code)
    } else {
        format!("Plot map of {}", map.trial_code)
    };
    let (ranges, passes) = (map.ranges(), map.passes());
    if ranges == 0 || passes == 0 || ranges > MOST || passes > MOST {
        return nothing_to_draw(width, &title, "There are no plots to draw.");
    }
    let cell = cell_size(map, width - LEFT - RIGHT, height);
    let left = LEFT + ((width - LEFT - RIGHT - f64::from(passes) * cell.0) / 2.0).max(0.0);
    let numbers_only = too_narrow_for_words(map, cell);
    let grid = Grid { map, ranges, passes, left, top: TOP, cell, numbers_only };
    let mut drawing = Drawing::new(width);
    let size_lines = wrap(&size_line(map), width - 64.0, SMALL, Weight::Regular, 2);
    for (index, line) in size_lines.iter().enumerate() {
        drawing.text((8.0, 16.0 + 14.0 * index as f64), line, Ink::LABEL.sized(SMALL).coloured(SOFT));
    }
    let colours = Colours::of(map);
    for plot in drawn_plots(map) {
        draw_plot(&mut drawing, &grid, plot, &colours);
    }
    draw_outlines(&mut drawing, &grid);
    draw_margins(&mut drawing, &grid);
    draw_passes(&mut drawing, &grid);
    draw_north(&mut drawing, map.up_bearing_deg, (width - 26.0, 36.0));
    let below = grid.bottom() + if grid.starts_at_top() { 26.0 } else { 48.0 };
    let below = colours.draw_key(&mut drawing, map, (8.0, below));
    let north = if map.up_bearing_deg.is_some() { "" } else { "North is not recorded for this layout." };
    let numbers = if numbers_only { "The number under the plot number is the treatment." } else { "" };
    let mut lines = vec![north, numbers];
    lines.extend(map.notes.iter().map(String::as_str));
    let below = notes(&mut drawing, (8.0, below), width - 16.0, &lines);
    let plots = map.plots.iter().filter(|plot| !plot.guard).count();
    let description =
        format!("{plots} plots in {ranges} ranges and {passes} passes, layout version {}.", map.layout_version);
    drawing.finish(below + 6.0, &title, &description)
}

/// Plots with a place; range and pass count from 1.
fn drawn_plots(map: &MapView) -> impl Iterator<Item = &MapPlot> {
    map.plots.iter().filter(|plot| plot.range > 0 && plot.pass > 0)
}

/// Width and height of a plot: as wide as the drawing allows; as high as its shape suggests, within what can be read and
/// what a page can spare. A map with a sheet to itself may fill it.
fn cell_size(map: &MapView, width: f64, height: f64) -> (f64, f64) {
    let cell_width = (width / f64::from(map.passes())).clamp(8.0, 120.0);
    let shape =
        if map.plot_width_m > 0.0 && map.plot_length_m > 0.0 { map.plot_length_m / map.plot_width_m } else { 1.0 };
    let shape = if shape.is_finite() { shape.clamp(0.55, 1.5) } else { 1.0 };
    let least = if map.blind || map.treatments.is_empty() { 26.0 } else { 40.0 };
    let cell_height = (cell_width * shape).clamp(least, if height.is_finite() { 170.0 } else { 58.0 });
    let cell_height = cell_height.min((height - TOP - 48.0) / f64::from(map.ranges()));
    (cell_width, cell_height.max(8.0))
}

/// Type size of a treatment in a plot of this height.
fn treatment_size(height: f64) -> f64 {
    (height * 0.2).clamp(6.5, 19.0)
}

/// Whether some word of a treatment's label is wider than a plot, while every plot has a treatment number to show.
fn too_narrow_for_words(map: &MapView, (width, height): (f64, f64)) -> bool {
    if map.blind || map.colour_by == ColourBy::Value {
        return false;
    }
    let size = treatment_size(height);
    let too_wide = |word: &str| text_width(word, size, Weight::Regular) > width - 5.0;
    let mut treated = map.plots.iter().filter(|plot| !plot.treatment.is_empty());
    let numbered = treated.clone().all(|plot| plot.treatment_number.is_some());
    numbered && treated.any(|plot| plot.treatment.split_whitespace().any(too_wide))
}

fn size_line(map: &MapView) -> String {
    let metres = |value: f64| {
        let text = format!("{value:.2}");
        text.trim_end_matches('0').trim_end_matches('.').to_string()
    };
    let mut line = format!("Plot {} m wide × {} m long", metres(map.plot_width_m), metres(map.plot_length_m));
    if map.alley_m > 0.0 {
        line.push_str(&format!(", alley between ranges {} m", metres(map.alley_m)));
    }
    if map.gap_m > 0.0 {
        line.push_str(&format!(", gap between passes {} m", metres(map.gap_m)));
    }
    line + ". Not drawn to scale."
}

/// What the fill of plots shows.
struct Colours<'a> {
    map: &'a MapView,
    values: Option<(f64, f64)>,
}

impl<'a> Colours<'a> {
    fn of(map: &'a MapView) -> Self {
        let values = extent(map.plots.iter().filter_map(|plot| plot.value));
        Self { map, values }
    }

    /// Fill and text colour.
    fn of_plot(&self, plot: &MapPlot) -> (String, &'static str) {
        if plot.guard {
            return (BAND.to_string(), SOFT);
        }
        match self.map.colour_by {
            ColourBy::None => (PAPER.to_string(), INK),
            ColourBy::Replicate if plot.replicate.unwrap_or(1).is_multiple_of(2) => ("#f3f1ea".to_string(), INK),
            ColourBy::Replicate => (PAPER.to_string(), INK),
            ColourBy::Treatment if self.map.blind => (PAPER.to_string(), INK),
            ColourBy::Treatment => {
                (plot.treatment_number.map_or(PAPER, |number| tint(number.wrapping_sub(1) as usize)).to_string(), INK)
            }
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
    fn draw_key(&self, drawing: &mut Drawing, map: &MapView, (left, top): (f64, f64)) -> f64 {
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

fn draw_plot(drawing: &mut Drawing, grid: &Grid<'_>, plot: &MapPlot, colours: &Colours<'_>) {
    let (x, y) = grid.corner(plot.range, plot.pass);
    let (fill, ink) = colours.of_plot(plot);
    let number = plot.number.map(|number| number.to_string()).unwrap_or_default();
    let data = [("data-plot", number.as_str())];
    let class = if plot.guard { "gr-plot gr-guard" } else { "gr-plot" };
    drawing.open(class, if number.is_empty() { &[] } else { &data }, &plot_title(grid.map, plot));
    drawing.rect((x, y), grid.cell, "gr-plot-fill", &fill);
    if grid.map.colour_by == ColourBy::Value && !plot.guard && plot.value.is_none() {
        draw_hatching(drawing, (x, y), grid.cell);
    }
    draw_thin_frame(drawing, (x, y), grid.cell);
    draw_plot_text(drawing, grid, plot, (x, y), ink);
    drawing.close();
}

/// What a pointer over the plot reads; a blind map tells no treatment.
fn plot_title(map: &MapView, plot: &MapPlot) -> String {
    let mut title = match plot.number {
        Some(number) => format!("Plot {number}"),
        None => "Guard plot".to_string(),
    };
    title.push_str(&format!(", range {}, pass {}", plot.range, plot.pass));
    if let Some(replicate) = plot.replicate {
        title.push_str(&format!(", replicate {replicate}"));
    }
    if !map.blind && !plot.treatment.is_empty() {
        title.push_str(&format!(", {}", plot.treatment));
    }
    if !plot.value_text.is_empty() {
        title.push_str(&format!(": {}", plot.value_text));
    }
    title
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
    let below = if grid.map.colour_by == ColourBy::Value {
        plot.value_text.clone()
    } else if grid.map.blind {
        String::new()
    } else if let (true, Some(number)) = (grid.numbers_only, plot.treatment_number) {
        number.to_string()
    } else {
        plot.treatment.clone()
    };
    let largest = if plot.guard { 11.0 } else { 40.0 };
    let size = fitting_size(&number, room, (height * if below.is_empty() { 0.5 } else { 0.36 }).min(largest));
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
    let small = treatment_size(height);
    let small = if grid.numbers_only { small.max(10.0) } else { small };
    let line_height = small * 1.08;
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

/// Heavier lines where neighbouring plots belong to different replicates or main plots, and round the trial.
fn draw_outlines(drawing: &mut Drawing, grid: &Grid<'_>) {
    let plots: std::collections::BTreeMap<(u32, u32), &MapPlot> =
        drawn_plots(grid.map).map(|plot| ((plot.range, plot.pass), plot)).collect();
    let unit = |range: u32, pass: u32| {
        plots.get(&(range, pass)).filter(|plot| !plot.guard).map(|plot| (plot.replicate, plot.main_plot))
    };
    for range in 0..=grid.ranges {
        for pass in 0..=grid.passes {
            let here = unit(range, pass);
            for (neighbour, upward) in [((range + 1, pass), true), ((range, pass + 1), false)] {
                let there = unit(neighbour.0, neighbour.1);
                let width = match (here, there) {
                    (None, None) => continue,
                    (Some(here), Some(there)) if here == there => continue,
                    (Some(here), Some(there)) if here.0 == there.0 => 1.5,
                    _ => 2.6,
                };
                let (from, to) = shared_edge(grid, (range, pass), upward);
                drawing.line(from, to, Stroke::new("gr-unit-edge", INK, width));
            }
        }
    }
}

/// The edge between a plot and the next range (`upward`) or the next pass.
fn shared_edge(grid: &Grid<'_>, (range, pass): (u32, u32), upward: bool) -> ((f64, f64), (f64, f64)) {
    let (x, y) = grid.corner(range, pass);
    let (width, height) = grid.cell;
    if upward {
        let edge = if grid.starts_at_top() { y + height } else { y };
        ((x, edge), (x + width, edge))
    } else {
        let edge = if grid.starts_at_right() { x } else { x + width };
        ((edge, y), (edge, y + height))
    }
}

/// Range numbers at the left, pass numbers above, replicate names where they fall into bands.
fn draw_margins(drawing: &mut Drawing, grid: &Grid<'_>) {
    for range in 1..=grid.ranges {
        let (_, y) = grid.corner(range, 1);
        let at = (grid.left - 7.0, y + grid.cell.1 / 2.0 + 4.0);
        drawing.text(at, &range.to_string(), Ink::TICK.anchored(Anchor::End));
    }
    let y = if grid.starts_at_top() { grid.bottom() + 15.0 } else { grid.top - 7.0 };
    for pass in 1..=grid.passes {
        let (x, _) = grid.corner(1, pass);
        drawing.text((x + grid.cell.0 / 2.0, y), &pass.to_string(), Ink::TICK);
    }
    drawing.upward_text((grid.left - 26.0, (grid.top + grid.bottom()) / 2.0), "range", Ink::TICK);
    let word_y = if grid.starts_at_top() { grid.bottom() + 15.0 } else { grid.top - 7.0 };
    drawing.text((grid.left - 7.0, word_y), "pass", Ink::TICK.anchored(Anchor::End));
    draw_replicate_names(drawing, grid);
}

fn draw_replicate_names(drawing: &mut Drawing, grid: &Grid<'_>) {
    let mut bands: std::collections::BTreeMap<u32, (f64, f64)> = std::collections::BTreeMap::new();
    for plot in drawn_plots(grid.map) {
        if let (Some(replicate), false) = (plot.replicate, plot.guard) {
            let (_, y) = grid.corner(plot.range, plot.pass);
            let band = bands.entry(replicate).or_insert((y, y));
            *band = (band.0.min(y), band.1.max(y));
        }
    }
    let mut sorted: Vec<_> = bands.into_iter().collect();
    sorted.sort_by(|a, b| a.1.0.total_cmp(&b.1.0));
    let apart = sorted.windows(2).all(|pair| pair[0].1.1 < pair[1].1.0);
    if !apart {
        return;
    }
    for (replicate, (from, to)) in sorted {
        let middle = (from + to + grid.cell.1) / 2.0;
        drawing.upward_text(
            (grid.right() + 16.0, middle),
            &format!("rep {replicate}"),
            Ink::LABEL.sized(SMALL).anchored(Anchor::Middle),
        );
    }
}
