//! Placing the plots of a draw on the ground.

use crate::ground::{Ground, Numbering};
use crate::ground_error::GroundError;
use crate::layout::{Layout, Plot, PlotKind};
use crate::randomisation::{Draw, DrawnPlot};
use crate::{DesignError, MAIN_PLOT, MOST_PLOTS};
use std::collections::BTreeMap;

/// Places the plots of a draw on the ground and numbers them.
///
/// A split-plot trial of two replicates, with two main plots `a` `b` of three plots each, `plots_per_range` 6, one guard plot `g`
/// at each range end, one between main plots, no guard ranges, serpentine numbering:
///
/// ```text
///      ^ y, along the passes (north_bearing_deg is its compass bearing)
///      |
///      +---+-----+-----+-----+---+-----+-----+-----+---+  -
/// back | g | 206 | 205 | 204 | g | 203 | 202 | 201 | g |  | plot_length_m        range 2, replicate 2
///      |   |  b  |  b  |  b  |   |  a  |  a  |  a  |   |  |
///      +---+-----+-----+-----+---+-----+-----+-----+---+  -
///                                                         | alley_between_replicates_m
///      +---+-----+-----+-----+---+-----+-----+-----+---+  -
/// front| g | 101 | 102 | 103 | g | 104 | 105 | 106 | g |  | plot_length_m        range 1, replicate 1
///      |   |  a  |  a  |  a  |   |  b  |  b  |  b  |   |  |
///      O---+-----+-----+-----+---+-----+-----+-----+---+  -  ---> x, across the passes
/// pass   1    2     3     4    5    6     7     8    9       every pass is plot_width_m wide
/// ```
///
/// - `O` is the front left corner; x and y are measured from it. A plot's `x_m`, `y_m` are those of its own front left corner.
/// - Replicates lie one behind the other. A replicate takes as many ranges as its plots need; what is left of its last range is
///   filled with guard plots at the end where the numbers stop.
/// - Positions of the draw follow the numbers: plot 101 is position 1 of replicate 1.
/// - Numbers are replicate x 100 + position; x 1000 when a replicate has 100 plots or more, and so on.
/// - With [`Numbering::Serpentine`] every second range that carries plots is numbered from right to left, through the whole trial.
/// - A main plot is never cut by an alley: a range holds whole main plots, or a main plot holds whole ranges.
///
/// # Errors
/// [`DesignError::Ground`] with what cannot be; [`DesignError::TooManyPlots`] when guard plots make the trial too large.
pub fn lay_out(draw: &Draw, ground: &Ground) -> Result<Layout, DesignError> {
    ground.check()?;
    let replicates = whole_replicates(draw)?;
    let tier = Tier::new(&replicates, ground)?;
    let ranges = ranges_from_the_front(&replicates, &tier, ground)?;
    let mut plots = Vec::new();
    let mut y_m = 0.0;
    let mut rightwards = true;
    for (index, range) in ranges.iter().enumerate() {
        if index > 0 {
            y_m += ground.plot_length_m + alley_before(range, &ranges[index - 1], ground);
        }
        plots.extend(tier.plots(range, index + 1, y_m, rightwards, ground));
        if !range.drawn.is_empty() && ground.numbering == Numbering::Serpentine {
            rightwards = !rightwards;
        }
    }
    Ok(Layout {
        ground: ground.clone(),
        plots,
        ranges: ranges.len(),
        passes: tier.places.len(),
        width_m: to_the_micrometre(tier.places.len() as f64 * ground.plot_width_m),
        length_m: to_the_micrometre(y_m + ground.plot_length_m),
        unit_names: BTreeMap::new(),
    })
}

/// The plots of each replicate, checked to be all there, in order and alike in number and main plots.
fn whole_replicates(draw: &Draw) -> Result<Vec<&[DrawnPlot]>, GroundError> {
    let not_whole = |fault: String| Err(GroundError::DrawNotWhole { fault });
    let replicates: Vec<&[DrawnPlot]> = draw.plots.chunk_by(|a, b| a.replicate == b.replicate).collect();
    let Some(first) = replicates.first() else { return not_whole("it has no plots".into()) };
    for (index, plots) in replicates.iter().enumerate() {
        let replicate = index + 1;
        if plots[0].replicate != replicate {
            return not_whole(format!("replicate {} stands where replicate {replicate} should", plots[0].replicate));
        }
        if plots.len() != first.len() {
            return not_whole(format!(
                "replicate {replicate} has {} plots, replicate 1 has {}",
                plots.len(),
                first.len()
            ));
        }
        for (place, (plot, alike)) in plots.iter().zip(first.iter()).enumerate() {
            if plot.position != place + 1 || plot.units != alike.units {
                return not_whole(format!("the plot at place {} of replicate {replicate} is out of order", place + 1));
            }
        }
    }
    match fault_of_main_plots(first) {
        Some(fault) => not_whole(fault),
        None => Ok(replicates),
    }
}

fn fault_of_main_plots(replicate: &[DrawnPlot]) -> Option<String> {
    let main_plots: Vec<&[DrawnPlot]> = replicate.chunk_by(|a, b| main_plot(a) == main_plot(b)).collect();
    if main_plots.iter().any(|plots| plots.len() != main_plots[0].len()) {
        return Some("its main plots differ in size, or are not each in one piece".into());
    }
    let unsplit = main_plots.len() == 1 && main_plot(&replicate[0]).is_none();
    let in_order = main_plots.iter().enumerate().all(|(index, plots)| main_plot(&plots[0]) == Some(index + 1));
    (!unsplit && !in_order).then(|| "its main plots are not numbered 1, 2, 3 and so on".into())
}

fn main_plot(plot: &DrawnPlot) -> Option<usize> {
    plot.units.get(MAIN_PLOT).copied()
}

/// One place in a range, from the left.
#[derive(Clone, Copy, PartialEq)]
enum Place {
    Plot,
    Guard,
}

/// How every range is divided: the same for all, so that passes run straight through the trial.
struct Tier {
    places: Vec<Place>,
    plots_per_range: usize,
    ranges_per_replicate: usize,
    number_step: usize,
}

impl Tier {
    fn new(replicates: &[&[DrawnPlot]], ground: &Ground) -> Result<Self, GroundError> {
        let (plots, plots_per_range) = (replicates[0].len(), ground.plots_per_range);
        if plots_per_range > plots {
            return Err(GroundError::RangeBeyondReplicate { plots_per_range, plots });
        }
        let needed = plots.div_ceil(plots_per_range);
        if let Some(ranges) = ground.ranges_per_replicate.filter(|ranges| *ranges != needed) {
            return Err(GroundError::WrongRanges { ranges, plots_per_range, plots, needed });
        }
        let places = places_from_the_left(replicates[0], ground)?;
        Ok(Self { places, plots_per_range, ranges_per_replicate: needed, number_step: number_step(plots) })
    }

    /// The plots of one range from the left.
    fn plots(&self, range: &Range, number: usize, y_m: f64, rightwards: bool, ground: &Ground) -> Vec<Plot> {
        let mut drawn = range.drawn.iter();
        let mut plots: Vec<Plot> = Vec::with_capacity(self.places.len());
        let in_number_order: Vec<usize> =
            if rightwards { (0..self.places.len()).collect() } else { (0..self.places.len()).rev().collect() };
        for place in in_number_order {
            let carried = if self.places[place] == Place::Plot { drawn.next() } else { None };
            plots.push(Plot {
                number: carried.map(|plot| self.number(plot)),
                kind: if carried.is_some() { PlotKind::Plot } else { PlotKind::Guard },
                replicate: range.replicate,
                units: carried.map_or_else(BTreeMap::new, |plot| plot.units.clone()),
                range: number,
                pass: place + 1,
                treatment: carried.map(|plot| plot.treatment),
                x_m: to_the_micrometre(place as f64 * ground.plot_width_m),
                y_m: to_the_micrometre(y_m),
                width_m: ground.plot_width_m,
                length_m: ground.plot_length_m,
            });
        }
        plots.sort_by_key(|plot| plot.pass);
        plots
    }

    fn number(&self, plot: &DrawnPlot) -> u32 {
        u32::try_from(plot.replicate * self.number_step + plot.position).expect("the number of plots was limited")
    }
}

/// The step from one replicate's numbers to the next: the smallest power of ten, from 100, that no position reaches.
fn number_step(plots_per_replicate: usize) -> usize {
    let mut step = 100;
    while step <= plots_per_replicate {
        step *= 10;
    }
    step
}

fn places_from_the_left(replicate: &[DrawnPlot], ground: &Ground) -> Result<Vec<Place>, GroundError> {
    let plots_per_range = ground.plots_per_range;
    let first = main_plot(&replicate[0]);
    let of_main_plot = first.map(|_| replicate.iter().filter(|plot| main_plot(plot) == first).count());
    if let Some(plots_per_main_plot) = of_main_plot
        && !plots_per_range.is_multiple_of(plots_per_main_plot)
        && !plots_per_main_plot.is_multiple_of(plots_per_range)
    {
        return Err(GroundError::MainPlotCut { plots_per_main_plot, plots_per_range });
    }
    let guards = ground.guards_between_main_plots;
    let guarded_every = of_main_plot.filter(|size| *size < plots_per_range);
    if guards > 0 && guarded_every.is_none() {
        return Err(GroundError::NoMainPlotsSideBySide { guards });
    }
    let end = vec![Place::Guard; ground.guards_at_range_ends];
    let mut places = end.clone();
    for plot in 0..plots_per_range {
        if plot > 0 && guarded_every.is_some_and(|size| plot % size == 0) {
            places.extend(vec![Place::Guard; guards]);
        }
        places.push(Place::Plot);
    }
    places.extend(end);
    Ok(places)
}

/// One range: the plots that it carries in number order, none in a guard range.
struct Range<'a> {
    replicate: Option<usize>,
    drawn: &'a [DrawnPlot],
}

fn ranges_from_the_front<'a>(
    replicates: &[&'a [DrawnPlot]],
    tier: &Tier,
    ground: &Ground,
) -> Result<Vec<Range<'a>>, DesignError> {
    let count = replicates.len() * tier.ranges_per_replicate + 2 * ground.guard_ranges;
    let plots = count.saturating_mul(tier.places.len());
    // Guard plots may outnumber the plots in a small trial; ten times the limit is still no trial.
    if plots > 10 * MOST_PLOTS || replicates.iter().map(|plots| plots.len()).sum::<usize>() > MOST_PLOTS {
        return Err(DesignError::TooManyPlots { plots });
    }
    let guard_range = || (0..ground.guard_ranges).map(|_| Range { replicate: None, drawn: &[] });
    let carrying = replicates.iter().enumerate().flat_map(|(index, plots)| {
        plots.chunks(tier.plots_per_range).map(move |drawn| Range { replicate: Some(index + 1), drawn })
    });
    Ok(guard_range().chain(carrying).chain(guard_range()).collect())
}

fn alley_before(range: &Range, before: &Range, ground: &Ground) -> f64 {
    match (before.replicate, range.replicate) {
        (Some(a), Some(b)) if a != b => ground.alley_between_replicates_m,
        _ => ground.alley_between_ranges_m,
    }
}

/// A distance without the dust of binary sums (three passes of 1.52 m are 4.56 m, not 4.5600000000000005), so that it is
/// written short and read back as the same number.
fn to_the_micrometre(metres: f64) -> f64 {
    (metres * 1e6).round() / 1e6
}
