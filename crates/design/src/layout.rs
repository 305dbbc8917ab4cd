//! The plots on the ground: their numbers, places and sizes.

use crate::ground::{Corner, Ground};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

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
    /// What people call places and seasons that have names and not numbers, by unit and number: site 1 is `Hill`.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub unit_names: BTreeMap<String, BTreeMap<usize, String>>,
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
    /// Its other larger units by name, each numbered from 1 within the unit around it: the main plot of a split-plot, the row
    /// and the column of a Latin square.
    pub units: BTreeMap<String, usize>,
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

impl Plot {
    /// The number of its unit of this kind, where it has one beside its replicate.
    pub fn unit(&self, name: &str) -> Option<usize> {
        self.units.get(name).copied()
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
        let mut passes = self.passes_front_to_back();
        if !from_left {
            passes.reverse();
        }
        let mut trips = Vec::with_capacity(passes.len());
        for mut plots in passes {
            if heading == Heading::ToFront {
                plots.reverse();
            }
            trips.push(SeederPass { pass: self.plots[plots[0]].pass, heading, plots });
            heading = heading.turned();
        }
        trips
    }

    /// The plots of each pass from the front, passes from the left.
    fn passes_front_to_back(&self) -> Vec<Vec<usize>> {
        let mut order: Vec<usize> = (0..self.plots.len()).collect();
        order.sort_by_key(|&index| (self.plots[index].pass, self.plots[index].range));
        order.chunk_by(|&a, &b| self.plots[a].pass == self.plots[b].pass).map(<[usize]>::to_vec).collect()
    }

    /// The plots of each range from the left, ranges from the front.
    fn ranges_left_to_right(&self) -> Vec<Vec<usize>> {
        let mut order: Vec<usize> = (0..self.plots.len()).collect();
        order.sort_by_key(|&index| (self.plots[index].range, self.plots[index].pass));
        order.chunk_by(|&a, &b| self.plots[a].range == self.plots[b].range).map(<[usize]>::to_vec).collect()
    }

    /// Indices into [`Self::plots`] of the plots with treatments, in the order of the shortest walk through the alleys: the
    /// first range from left to right, the next from right to left. With serpentine numbering this is the order of the numbers.
    pub fn walking_order(&self) -> Vec<usize> {
        let mut order = Vec::new();
        let mut leftwards = false;
        for mut range in self.ranges_left_to_right() {
            range.retain(|&index| self.plots[index].kind == PlotKind::Plot);
            if range.is_empty() {
                continue;
            }
            if leftwards {
                range.reverse();
            }
            order.extend(range);
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
        let line = |range: &Vec<usize>| -> String {
            let padded: Vec<String> = range.iter().map(|&index| format!("{:>wide$}", cells[index])).collect();
            padded.join(" ") + "\n"
        };
        self.ranges_left_to_right().iter().rev().map(line).collect()
    }
}
