//! The plot map: plots at their places, replicates and main plots outlined, where the first pass starts and north.
//!
//! Not to scale: plots are drawn wide enough to be read; their size in metres stands in the line above the map.

mod compass;
mod edges;
mod fill;
mod plots;

use super::Width;
use super::frame::{notes, nothing_to_draw};
use super::palette::SOFT;
use super::svg::{Drawing, Ink, SMALL};
use crate::map::{Corner, MapPlot, MapView};
use crate::typeface::{Weight, text_width, wrap};
use compass::{draw_north, draw_passes};
use edges::{draw_margins, draw_outlines};
use fill::Fill;
use plots::draw_plot;

/// More ranges or passes than this are not a small-plot trial but a typing error; they are not drawn.
const MOST: u32 = 400;

/// The map's grid on the drawing: the front range at the foot, the first pass at the left.
struct Grid<'a> {
    map: &'a MapView,
    passes: u32,
    left: f64,
    /// Upper edge of each range, from the front.
    tops: Vec<f64>,
    cell: (f64, f64),
    /// Sizes of the plot number and of what stands under it.
    sizes: (f64, f64),
    /// Plots are too narrow for the treatments' words: their numbers are drawn instead.
    numbers_only: bool,
}

impl Grid<'_> {
    /// Upper left corner of a plot.
    fn corner(&self, range: u32, pass: u32) -> (f64, f64) {
        (self.left + f64::from(pass - 1) * self.cell.0, self.tops[range as usize - 1])
    }

    fn ranges(&self) -> u32 {
        self.tops.len() as u32
    }

    /// The seeder begins at the back.
    fn starts_at_top(&self) -> bool {
        matches!(self.map.start_corner, Corner::TopLeft | Corner::TopRight)
    }

    fn starts_at_right(&self) -> bool {
        matches!(self.map.start_corner, Corner::BottomRight | Corner::TopRight)
    }

    fn right(&self) -> f64 {
        self.left + f64::from(self.passes) * self.cell.0
    }

    fn top(&self) -> f64 {
        self.tops.last().copied().unwrap_or_default()
    }

    fn bottom(&self) -> f64 {
        self.tops.first().copied().unwrap_or_default() + self.cell.1
    }
}

/// Draws a map at a width, as [`super::draw`] does; `height` limits the plots' height for a given sheet (px).
pub fn plot_map(map: &MapView, width: f64, height: f64) -> String {
    let (width, height) = (width.clamp(200.0, 4000.0), height.clamp(150.0, 4000.0));
    let key = "The number under the plot number is the treatment.";
    draw_within(map, width, height, key)
}

/// Draws a map for a screen: at the width asked for, or wider when its plots would be too narrow for a finger.
pub fn plot_map_to_touch(map: &MapView, width: Width) -> String {
    /// Least width of a plot that a finger meets, px (the target size of WCAG 2.1, from memory).
    const FINGER: f64 = 44.0;
    let passes = map.passes().min(MOST);
    draw(map, width.px().max(LEFT + RIGHT + FINGER * f64::from(passes)))
}

pub(super) fn draw(map: &MapView, width: f64) -> String {
    let treatments: Vec<String> = map.treatments.iter().map(|key| format!("{} {}", key.number, key.label)).collect();
    let key = format!("The number under the plot number is the treatment: {}.", treatments.join("; "));
    draw_within(map, width, f64::INFINITY, &key)
}

const LEFT: f64 = 58.0;
const RIGHT: f64 = 56.0;
/// Room above the plots; more when the seeder starts there, since the start is named.
const TOP: f64 = 62.0;
const TOP_WITH_START: f64 = 80.0;
/// Height of an alley between replicates on the drawing.
const ALLEY: f64 = 12.0;

/// - `numbers_key`: what is said of the numbers that stand for treatments in narrow plots
fn draw_within(map: &MapView, width: f64, height: f64, numbers_key: &str) -> String {
    let title = if map.blind {
        format!("Plot map of {}, blind", map.trial_code)
    } else {
        format!("Plot map of {}", map.trial_code)
    };
    let (ranges, passes) = (map.ranges(), map.passes());
    if ranges == 0 || passes == 0 || ranges > MOST || passes > MOST {
        return nothing_to_draw(width, &title, "There are no plots to draw.");
    }
    let grid = grid(map, width, height);
    let mut drawing = Drawing::new(width);
    let size_lines = wrap(&size_line(map), width - 64.0, SMALL, Weight::Regular, 2);
    for (index, line) in size_lines.iter().enumerate() {
        drawing.text((8.0, 16.0 + 14.0 * index as f64), line, Ink::LABEL.sized(SMALL).coloured(SOFT));
    }
    let fill = Fill::of(map);
    for plot in drawn_plots(map) {
        draw_plot(&mut drawing, &grid, plot, &fill);
    }
    draw_outlines(&mut drawing, &grid);
    draw_margins(&mut drawing, &grid);
    draw_passes(&mut drawing, &grid);
    draw_north(&mut drawing, map.up_bearing_deg, (width - 26.0, 36.0));
    let below = grid.bottom() + if grid.starts_at_top() { 26.0 } else { 48.0 };
    let below = fill.draw_key(&mut drawing, (8.0, below));
    let north = if map.up_bearing_deg.is_some() { "" } else { "North is not recorded for this layout." };
    let mut lines = vec![north, if grid.numbers_only { numbers_key } else { "" }];
    lines.extend(map.notes.iter().map(String::as_str));
    let below = notes(&mut drawing, (8.0, below), width - 16.0, &lines);
    let plots = map.plots.iter().filter(|plot| !plot.guard).count();
    let description =
        format!("{plots} plots in {ranges} ranges and {passes} passes, layout version {}.", map.layout_version);
    drawing.finish(below + 6.0, &title, &description)
}

fn grid(map: &MapView, width: f64, height: f64) -> Grid<'_> {
    let (ranges, passes) = (map.ranges(), map.passes());
    let alleys = alleys_above(map);
    let at_top = matches!(map.start_corner, Corner::TopLeft | Corner::TopRight);
    let head = if at_top { TOP_WITH_START } else { TOP };
    let taken = head + 48.0 + ALLEY * alleys.iter().filter(|alley| **alley).count() as f64;
    let room = (height - taken) / f64::from(ranges);
    let mut cell = cell_size(map, width - LEFT - RIGHT, room);
    let sizes = type_sizes(cell.1);
    let needed = height_for_words(map, cell.0, sizes);
    let numbers_only = needed.is_none_or(|needed| needed > cell.1.max(room.min(HIGHEST_FOR_WORDS)));
    if let (false, Some(needed)) = (numbers_only, needed) {
        cell.1 = cell.1.max(needed);
    }
    let mut tops = vec![0.0; ranges as usize];
    let mut y = head;
    for index in (0..ranges as usize).rev() {
        y += if alleys[index] { ALLEY } else { 0.0 };
        tops[index] = y;
        y += cell.1;
    }
    let left = LEFT + ((width - LEFT - RIGHT - f64::from(passes) * cell.0) / 2.0).max(0.0);
    Grid { map, passes, left, tops, cell, sizes, numbers_only: numbers_only && can_be_numbered(map) }
}

/// For each range from the front whether an alley between replicates lies behind it: where the two ranges share none.
fn alleys_above(map: &MapView) -> Vec<bool> {
    let mut replicates = vec![std::collections::BTreeSet::new(); map.ranges() as usize];
    for plot in drawn_plots(map).filter(|plot| !plot.guard) {
        replicates[plot.range as usize - 1].extend(plot.replicate);
    }
    let apart = |here: usize| {
        let (here, behind) = (&replicates[here], replicates.get(here + 1));
        behind.is_some_and(|behind| !here.is_empty() && !behind.is_empty() && here.is_disjoint(behind))
    };
    (0..replicates.len()).map(|range| map.alley_between_replicates_m > 0.0 && apart(range)).collect()
}

/// Plots with a place; range and pass count from 1.
fn drawn_plots(map: &MapView) -> impl Iterator<Item = &MapPlot> {
    map.plots.iter().filter(|plot| plot.range > 0 && plot.pass > 0)
}

/// Width and height of a plot: as wide as the drawing allows; as high as its shape suggests, within what can be read and
/// what a page can spare. A map with a sheet to itself may fill it.
///
/// - `height`: the most that a plot may take
fn cell_size(map: &MapView, width: f64, height: f64) -> (f64, f64) {
    let cell_width = (width / f64::from(map.passes())).clamp(8.0, 120.0);
    let shape =
        if map.plot_width_m > 0.0 && map.plot_length_m > 0.0 { map.plot_length_m / map.plot_width_m } else { 1.0 };
    let shape = if shape.is_finite() { shape.clamp(0.55, 1.5) } else { 1.0 };
    let least = if map.blind || map.treatments.is_empty() { 26.0 } else { 40.0 };
    let cell_height = (cell_width * shape).clamp(least, if height.is_finite() { 170.0 } else { 58.0 });
    (cell_width, cell_height.min(height).max(8.0))
}

/// A plot is made as high as this for its treatment's words; beyond it the number of the treatment must do.
const HIGHEST_FOR_WORDS: f64 = 84.0;

/// Sizes of a plot's number and of the treatment under it, in a plot of this height.
fn type_sizes(height: f64) -> (f64, f64) {
    ((height * 0.36).min(40.0), (height * 0.23).clamp(6.5, 19.0))
}

/// Height of a line of the treatment's words.
fn line_height(size: f64) -> f64 {
    size * 1.08
}

/// Height of the plots that the longest treatment label needs under the plot number; none when a word of some label is
/// wider than a plot.
fn height_for_words(map: &MapView, width: f64, (number, words): (f64, f64)) -> Option<f64> {
    /// More lines than this are no label.
    const MOST_LINES: usize = 6;
    if !can_be_numbered(map) {
        return Some(0.0);
    }
    let mut lines = 0;
    for plot in drawn_plots(map).filter(|plot| !plot.treatment.is_empty()) {
        let wide = |word: &str| text_width(word, words, Weight::Regular) > width - 5.0;
        if plot.treatment.split_whitespace().any(wide) {
            return None;
        }
        lines = lines.max(wrap(&plot.treatment, width - 5.0, words, Weight::Regular, MOST_LINES).len());
    }
    Some(number + 5.0 + line_height(words) * lines as f64)
}

/// Whether plots show their treatment, and each could show its number instead.
fn can_be_numbered(map: &MapView) -> bool {
    let mut treated = map.plots.iter().filter(|plot| !plot.treatment.is_empty());
    !map.blind && !map.colour_by.shows_values() && treated.all(|plot| plot.treatment_number.is_some())
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
    if map.alley_between_replicates_m > 0.0 {
        line.push_str(&format!(", between replicates {} m", metres(map.alley_between_replicates_m)));
    }
    if map.gap_m > 0.0 {
        line.push_str(&format!(", gap between passes {} m", metres(map.gap_m)));
    }
    line + ". Not drawn to scale."
}
