//! Direction on the map: north, the start corner, and which way each pass is driven.

use super::super::frame::polygon;
use super::super::palette::{ACCENT, INK, SOFT};
use super::super::svg::{Anchor, Drawing, Ink, SMALL, Stroke};
use super::Grid;
use crate::map::Travel;

/// The north arrow; nothing when the bearing of the drawing is not known.
pub(super) fn draw_north(drawing: &mut Drawing, up_bearing_deg: Option<f64>, (x, y): (f64, f64)) {
    let Some(bearing) = up_bearing_deg.filter(|bearing| bearing.is_finite()) else { return };
    // On the drawing, north lies as far anticlockwise of "up" as "up" lies clockwise of north.
    let angle = -(bearing % 360.0).to_radians();
    let turn =
        |right: f64, up: f64| (x + right * angle.cos() + up * angle.sin(), y + right * angle.sin() - up * angle.cos());
    drawing.open("gr-north", &[], "North");
    drawing.line(turn(0.0, -18.0), turn(0.0, 8.0), Stroke::new("gr-axis", INK, 1.6));
    polygon(drawing, &[turn(0.0, 15.0), turn(6.0, 2.0), turn(0.0, 5.0), turn(-6.0, 2.0)], INK);
    let (letter_x, letter_y) = turn(0.0, 23.0);
    drawing.text((letter_x, letter_y + 4.5), "N", Ink::LABEL.bold().anchored(Anchor::Middle));
    drawing.close();
}

/// An arrow at the end at which each pass is entered; the first one is named and wears the accent.
pub(super) fn draw_passes(drawing: &mut Drawing, grid: &Grid<'_>) {
    drawing.open("gr-travel", &[], "Direction of travel");
    for trip in 0..grid.passes {
        let pass = if grid.starts_at_right() { grid.passes - trip } else { trip + 1 };
        let enters_at_start = grid.map.travel == Travel::OneWay || trip % 2 == 0;
        let from_below = enters_at_start != grid.starts_at_top();
        let middle = grid.corner(1, pass).0 + grid.cell.0 / 2.0;
        let colour = if trip == 0 { ACCENT } else { SOFT };
        let size = f64::min(if trip == 0 { 8.0 } else { 5.0 }, grid.cell.0 / 2.5);
        let (base, tip) = if from_below {
            (grid.bottom() + 5.0 + size * 1.5, grid.bottom() + 5.0)
        } else {
            // The numbers of the passes stand between the arrow and the plots.
            (grid.top() - 20.0 - size * 1.5, grid.top() - 20.0)
        };
        polygon(drawing, &[(middle, tip), (middle + size, base), (middle - size, base)], colour);
    }
    drawing.close();
    name_the_start(drawing, grid);
}

fn name_the_start(drawing: &mut Drawing, grid: &Grid<'_>) {
    let y = if grid.starts_at_top() { grid.top() - 38.0 } else { grid.bottom() + 36.0 };
    let (x, anchor) = if grid.starts_at_right() { (grid.right(), Anchor::End) } else { (grid.left, Anchor::Start) };
    let order = match grid.map.travel {
        Travel::Serpentine => "start: first pass enters here, the next one comes back",
        Travel::OneWay => "start: first pass enters here, every pass in the same direction",
    };
    drawing.text((x, y), order, Ink::LABEL.sized(SMALL).anchored(anchor).coloured(ACCENT));
}
