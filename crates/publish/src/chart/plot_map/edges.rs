//! What stands round the plots: the outlines of replicates and main plots, and the names beside them.

use std::collections::BTreeMap;

use super::super::palette::INK;
use super::super::svg::{Anchor, Drawing, Ink, SMALL, Stroke};
use super::{Grid, drawn_plots};
use crate::map::MapPlot;

/// Heavier lines where neighbouring plots belong to different replicates or main plots, and round the trial.
pub(super) fn draw_outlines(drawing: &mut Drawing, grid: &Grid<'_>) {
    let plots: BTreeMap<(u32, u32), &MapPlot> =
        drawn_plots(grid.map).filter(|plot| !plot.guard).map(|plot| ((plot.range, plot.pass), plot)).collect();
    let (width, height) = grid.cell;
    for (&(range, pass), plot) in &plots {
        let (x, y) = grid.corner(range, pass);
        let sides = [
            (range.checked_add(1).map(|range| (range, pass)), (x, y), (x + width, y)),
            (range.checked_sub(1).map(|range| (range, pass)), (x, y + height), (x + width, y + height)),
            (pass.checked_sub(1).map(|pass| (range, pass)), (x, y), (x, y + height)),
            (pass.checked_add(1).map(|pass| (range, pass)), (x + width, y), (x + width, y + height)),
        ];
        for (neighbour, from, to) in sides {
            let neighbour = neighbour.and_then(|place| plots.get(&place));
            let thickness = match neighbour {
                Some(there) if (there.replicate, there.main_plot) == (plot.replicate, plot.main_plot) => continue,
                Some(there) if there.replicate == plot.replicate => 1.5,
                _ => 2.6,
            };
            // Two plots that touch have one edge between them, which the one behind or at the right draws.
            let touch = |there: &MapPlot| {
                let (other_x, other_y) = grid.corner(there.range, there.pass);
                (other_x - x).abs() <= width + 0.01 && (other_y - y).abs() <= height + 0.01
            };
            let drawn_by_neighbour =
                neighbour.is_some_and(|there| touch(there) && (there.range, there.pass) > (range, pass));
            if !drawn_by_neighbour {
                drawing.line(from, to, Stroke::new("gr-unit-edge", INK, thickness));
            }
        }
    }
}

/// Range numbers at the left, pass numbers above, replicate names where they fall into bands.
pub(super) fn draw_margins(drawing: &mut Drawing, grid: &Grid<'_>) {
    for range in 1..=grid.ranges() {
        let (_, y) = grid.corner(range, 1);
        let at = (grid.left - 7.0, y + grid.cell.1 / 2.0 + 4.0);
        drawing.text(at, &range.to_string(), Ink::TICK.anchored(Anchor::End));
    }
    let y = grid.top() - 7.0;
    for pass in 1..=grid.passes {
        let (x, _) = grid.corner(1, pass);
        drawing.text((x + grid.cell.0 / 2.0, y), &pass.to_string(), Ink::TICK);
    }
    drawing.upward_text((grid.left - 26.0, (grid.top() + grid.bottom()) / 2.0), "range", Ink::TICK);
    drawing.text((grid.left - 7.0, y), "pass", Ink::TICK.anchored(Anchor::End));
    draw_replicate_names(drawing, grid);
}

fn draw_replicate_names(drawing: &mut Drawing, grid: &Grid<'_>) {
    let mut bands: BTreeMap<u32, (f64, f64)> = BTreeMap::new();
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
