//! Direction on the map: north, the start corner, and which way each pass is driven.

use super::frame::polygon;
use super::palette::{ACCENT, INK, SOFT};
use super::plot_map::Grid;
use super::svg::{Anchor, Drawing, Ink, SMALL, Stroke};
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
    let enters_at_start = |pass: u32| grid.map.travel == Travel::OneWay || pass % 2 == 1;
    drawing.open("gr-travel", &[], "Direction of travel");
    for pass in 1..=grid.passes {
        let (x, _) = grid.corner(1, pass);
        let middle = x + grid.cell.0 / 2.0;
        // The pass is entered below the map when it starts there and runs up, or when it runs down from the top.
        let from_below = enters_at_start(pass) != grid.starts_at_top();
        let colour = if pass == 1 { ACCENT } else { SOFT };
        let size = f64::min(if pass == 1 { 8.0 } else { 5.0 }, grid.cell.0 / 2.5);
        let (base, tip) = if from_below {
            (grid.bottom() + 5.0 + size * 1.5, grid.bottom() + 5.0)
        } else {
            let clear = if grid.starts_at_top() { 5.0 } else { 20.0 };
            (grid.top - clear - size * 1.5, grid.top - clear)
        };
        polygon(drawing, &[(middle, tip), (middle + size, base), (middle - size, base)], colour);
    }
    drawing.close();
    name_the_start(drawing, grid);
}

fn name_the_start(drawing: &mut Drawing, grid: &Grid<'_>) {
    let (x, _) = grid.corner(1, 1);
    let at_left = x <= (grid.left + grid.right()) / 2.0;
    let y = if grid.starts_at_top() { grid.top - 24.0 } else { grid.bottom() + 36.0 };
    let (x, anchor) = if at_left { (x, Anchor::Start) } else { (x + grid.cell.0, Anchor::End) };
    let order = match grid.map.travel {
        Travel::Serpentine => "start: first pass enters here, the next one comes back",
        Travel::OneWay => "start: first pass enters here, every pass in the same direction",
    };
    drawing.text((x, y), order, Ink::LABEL.sized(SMALL).anchored(anchor).coloured(ACCENT));
}
