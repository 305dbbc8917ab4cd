//! The plot map: every plot at its place, as the driver and the walker see it.
//!
//! Range 1 lies at the foot of the drawing, the front of the trial, and pass 1 at the left, wherever the seeder begins.
//! Passes run up and down the drawing (the seeder travels along a pass and trips at every range); ranges are the tiers
//! across it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The corner of the drawing at which the seeder begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
#[schema(as = MapCorner)]
pub enum Corner {
    /// At the front, before pass 1.
    #[default]
    BottomLeft,
    /// At the front, before the last pass.
    BottomRight,
    /// At the back, before pass 1.
    TopLeft,
    /// At the back, before the last pass.
    TopRight,
}

/// How successive passes are driven.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Travel {
    /// Up one pass, down the next.
    #[default]
    Serpentine,
    /// Every pass in the same direction.
    OneWay,
}

/// What the fill of a plot shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ColourBy {
    /// Only guards and plots are told apart.
    None,
    /// Replicates, alternately light and dark.
    #[default]
    Replicate,
    /// Treatments; never in a blind map.
    Treatment,
    /// `MapPlot::value`, light for low and dark for high.
    Value,
    /// `MapPlot::value` as a residual in units of its error: blue above, brown below, and a mark for the sign.
    Residual,
}

impl ColourBy {
    /// Whether plots show their values.
    pub fn shows_values(self) -> bool {
        matches!(self, Self::Value | Self::Residual)
    }
}

/// One plot of the map.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct MapPlot {
    /// Range, from 1 at the front.
    pub range: u32,
    /// Pass, from 1 at the left.
    pub pass: u32,
    /// Plot number; none for a guard plot.
    #[serde(default)]
    pub number: Option<u32>,
    /// Number of the treatment; not drawn in a blind map.
    #[serde(default)]
    pub treatment_number: Option<u32>,
    /// Short label of the treatment; not drawn in a blind map.
    #[serde(default)]
    pub treatment: String,
    /// Which of the pale fills the plot has in a map coloured by treatment, from 0; plots of one level may share one.
    #[serde(default)]
    pub tint: Option<u32>,
    /// Replicate, from 1.
    #[serde(default)]
    pub replicate: Option<u32>,
    /// Main plot within the replicate, when the trial has main plots.
    #[serde(default)]
    pub main_plot: Option<u32>,
    /// A guard plot carries crop but no record.
    #[serde(default)]
    pub guard: bool,
    /// Value for [`ColourBy::Value`] and [`ColourBy::Residual`]; none is drawn hatched.
    #[serde(default)]
    pub value: Option<f64>,
    /// The value as it is printed in the plot.
    #[serde(default)]
    pub value_text: String,
}

/// A line of the treatment key.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct TreatmentKey {
    /// The treatment's number, the same all year.
    pub number: u32,
    /// Short label, as in the plots.
    pub label: String,
    /// What it is; may be empty.
    #[serde(default)]
    pub description: String,
}

/// A plot map.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct MapView {
    /// The trial's code.
    pub trial_code: String,
    /// Title of the trial.
    pub title: String,
    /// Station.
    pub station: String,
    /// Season.
    pub season: String,
    /// Site, in words.
    pub site: String,
    /// Version of the layout.
    pub layout_version: u32,
    /// Day the map was made, as it is to be printed.
    pub drawn_on: String,
    /// Plots and guards.
    pub plots: Vec<MapPlot>,
    /// Treatments, in number order; not drawn in a blind map.
    #[serde(default)]
    pub treatments: Vec<TreatmentKey>,
    /// Gross plot length along the pass, m.
    pub plot_length_m: f64,
    /// Gross plot width across the pass, m.
    pub plot_width_m: f64,
    /// Width of the alley between ranges, m.
    #[serde(default)]
    pub alley_m: f64,
    /// Width of the alley between replicates, m; 0 when they are not set apart.
    #[serde(default)]
    pub alley_between_replicates_m: f64,
    /// Gap between neighbouring passes, m.
    #[serde(default)]
    pub gap_m: f64,
    /// Compass bearing of the drawing's upward direction, degrees clockwise from north; 0 when north is up.
    /// None: unknown, and the drawing says so instead of showing an arrow.
    #[serde(default)]
    pub up_bearing_deg: Option<f64>,
    /// Where the seeder begins.
    #[serde(default)]
    pub start_corner: Corner,
    /// How passes follow each other.
    #[serde(default)]
    pub travel: Travel,
    /// Without treatment names or numbers, for scoring.
    pub blind: bool,
    /// What the fill shows.
    #[serde(default)]
    pub colour_by: ColourBy,
    /// Name and unit of the value shown by [`ColourBy::Value`] or [`ColourBy::Residual`].
    #[serde(default)]
    pub value_label: String,
    /// Lines under the map: neighbours, stake positions, first stake.
    #[serde(default)]
    pub notes: Vec<String>,
}

impl MapView {
    /// Number of ranges drawn; 0 for a map without plots.
    pub fn ranges(&self) -> u32 {
        self.plots.iter().map(|plot| plot.range).max().unwrap_or(0)
    }

    /// Number of passes drawn; 0 for a map without plots.
    pub fn passes(&self) -> u32 {
        self.plots.iter().map(|plot| plot.pass).max().unwrap_or(0)
    }

    /// The same map without anything that tells a treatment: what a blind print or an answer to a phone may carry.
    #[must_use]
    pub fn blinded(&self) -> Self {
        let mut map = Self { blind: true, treatments: Vec::new(), ..self.clone() };
        if map.colour_by == ColourBy::Treatment {
            map.colour_by = ColourBy::Replicate;
        }
        for plot in &mut map.plots {
            plot.treatment.clear();
            plot.treatment_number = None;
            plot.tint = None;
        }
        map
    }
}
