//! The plots on the ground: their numbers, places and sizes.

use crate::ground::{Corner, Ground};
use serde::{Deserialize, Serialize};

/// All plots of a trial on the ground, with the decisions that they follow from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Layout {
    /// What was decided about the ground.
    pub ground: Ground,
    /// Plots and guard plots, range by range from the front and pass by pass from the left.
    pub plots: Vec<Plot>,
    /// Number of ranges, guard ranges included.
    pub ranges: usize,
    /// Number of passes, guard plots included.
    pub passes: usize,
    /// Width of the whole trial across the passes, m.
    pub width_m: f64,
    /// Length of the whole trial along the passes, alleys included, m.
    pub length_m: f64,
}

/// A plot or guard plot on the ground.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Plot {
    /// Number on the stake; guard plots have none.
    pub number: Option<u32>,
    /// Whether it carries a treatment.
    pub kind: PlotKind,
    /// Replicate from 1; guard ranges belong to none. A completely random trial is all in 1.
    pub replicate: Option<usize>,
    /// Main plot from 1 within the replicate; only plots of a split-plot have one.
    pub main_plot: Option<usize>,
    /// Tier of plots from the front, from 1, guard ranges included.
    pub range: usize,
    /// Trip of the seeder from the left, from 1, guard plots included.
    pub pass: usize,
    /// Index from 0 into the treatments; guard plots have none.
    pub treatment: Option<usize>,
    /// Distance of its left side from the left side of the trial, m.
    pub x_m: f64,
    /// Distance of its front from the front of the trial, m.
    pub y_m: f64,
    /// Width across the pass, m.
    pub width_m: f64,
    /// Length along the pass, m.
    pub length_m: f64,
}

/// Whether a plot carries a treatment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PlotKind {
    /// It has a number, a treatment and records.
    Plot,
    /// It carries crop, but no record.
    Guard,
}

/// One trip of the seeder through the trial.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct SeederPass {
    /// Number of the pass, from the left.
    pub pass: usize,
    /// Which way the seeder drives.
    pub heading: Heading,
    /// Indices into [`Layout::plots`] in the order in which they are seeded, guard plots included.
    pub plots: Vec<usize>,
}

/// The way of a pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Heading {
    /// From range 1 to the last range.
    ToBack,
    /// From the last range to range 1.
    ToFront,
}

impl Heading {
    fn turned(self) -> Self {
        match self {
            Self::ToBack => Self::ToFront,
            Self::ToFront => Self::ToBack,
        }
    }
}

impl Layout {
    /// The ground that the whole trial takes, m2, alleys and guard plots included.
    pub fn area_m2(&self) -> f64 {
        self.width_m * self.length_m
    }

    /// The plot with this number.
    pub fn plot(&self, number: u32) -> Option<&Plot> {
        self.plots.iter().find(|plot| plot.number == Some(number))
    }

    /// The plots that carry a treatment, by number.
    pub fn in_number_order(&self) -> Vec<&Plot> {
        let mut plots: Vec<&Plot> = self.plots.iter().filter(|plot| plot.kind == PlotKind::Plot).collect();
        plots.sort_by_key(|plot| plot.number);
        plots
    }

    /// The passes in driving order: from the seeder's corner, turning at the end of each pass into the next.
    pub fn seeding_order(&self) -> Vec<SeederPass> {
        let corner = self.ground.seeder_start;
        let from_left = matches!(corner, Corner::FrontLeft | Corner::BackLeft);
        let mut heading = match corner {
            Corner::FrontLeft | Corner::FrontRight => Heading::ToBack,
            Corner::BackLeft | Corner::BackRight => Heading::ToFront,
        };
        let mut trips = Vec::with_capacity(self.passes);
        for trip in 1..=self.passes {
            let pass = if from_left { trip } else { self.passes + 1 - trip };
            trips.push(SeederPass { pass, heading, plots: self.plots_along(pass, heading) });
            heading = heading.turned();
        }
        trips
    }

    fn plots_along(&self, pass: usize, heading: Heading) -> Vec<usize> {
        let front_to_back = (0..self.plots.len()).filter(|&index| self.plots[index].pass == pass);
        match heading {
            Heading::ToBack => front_to_back.collect(),
            Heading::ToFront => front_to_back.rev().collect(),
        }
    }

    /// Indices into [`Self::plots`] of the plots with treatments, in the order of the shortest walk through the alleys: the
    /// first range from left to right, the next from right to left. With serpentine numbering this is the order of the numbers.
    pub fn walking_order(&self) -> Vec<usize> {
        let mut order = Vec::new();
        let mut leftwards = false;
        for range in 1..=self.ranges {
            let carries = |&index: &usize| self.plots[index].range == range && self.plots[index].kind == PlotKind::Plot;
            let mut walked: Vec<usize> = (0..self.plots.len()).filter(carries).collect();
            if walked.is_empty() {
                continue;
            }
            if leftwards {
                walked.reverse();
            }
            order.extend(walked);
            leftwards = !leftwards;
        }
        order
    }

    /// The map as plain text, back range on top and pass 1 on the left; guard plots are dots.
    ///
    /// - `show`: what to write for a plot, for example its number
    pub fn drawing(&self, show: impl Fn(&Plot) -> String) -> String {
        let cells: Vec<String> = self
            .plots
            .iter()
            .map(|plot| if plot.kind == PlotKind::Guard { ".".to_owned() } else { show(plot) })
            .collect();
        let wide = cells.iter().map(|cell| cell.chars().count()).max().unwrap_or(0);
        let line = |range: usize| -> String {
            let of_range = self.plots.iter().zip(&cells).filter(|(plot, _)| plot.range == range);
            let padded: Vec<String> = of_range.map(|(_, cell)| format!("{cell:>wide$}")).collect();
            padded.join(" ")
        };
        (1..=self.ranges).rev().map(|range| line(range) + "\n").collect()
    }
}
