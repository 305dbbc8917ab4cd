//! Charts: one drawing as SVG for the page and for the print.
//!
//! Every chart is a plain value with raw numbers and finished labels. Colours are written into the drawing, because the
//! print has no style sheet; class names stand beside them, so that a page can restyle it (high contrast, night).
//! Plot marks carry `data-plot` with the plot number.

mod differences;
mod frame;
mod interaction;
mod means;
mod palette;
mod plot_map;
mod residuals;
mod response_curve;
mod scale;
mod svg;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::map::MapView;

pub use differences::{Difference, DifferencesChart};
pub use interaction::{InteractionChart, InteractionLine, InteractionPoint};
pub use means::{MeanPoint, MeansChart};
pub use plot_map::{plot_map, plot_map_to_touch};
pub use residuals::{Residual, ResidualChart};
pub use response_curve::{BestKind, BestMark, CurvePanel, CurvePoint, MeanAtAmount, PlotAtAmount, ResponseCurveChart};

/// What an axis shows.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct Axis {
    /// `Grain yield`.
    pub label: String,
    /// `t/ha`; empty for a count or score.
    #[serde(default)]
    pub unit: String,
}

impl Axis {
    /// An axis with its unit.
    pub fn new(label: impl Into<String>, unit: impl Into<String>) -> Self {
        Self { label: label.into(), unit: unit.into() }
    }

    fn title(&self) -> String {
        if self.unit.is_empty() { self.label.clone() } else { format!("{} ({})", self.label, self.unit) }
    }
}

/// Any chart, by kind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Chart {
    /// Means with their intervals.
    Means(MeansChart),
    /// Differences against the margin.
    Differences(DifferencesChart),
    /// Means of one factor at the levels of another.
    Interaction(InteractionChart),
    /// The response to amounts: plots, means, fitted curve, best amounts.
    ResponseCurve(ResponseCurveChart),
    /// Residuals against fitted values, and their normal plot.
    Residuals(ResidualChart),
    /// The plot map.
    PlotMap(MapView),
}

/// Width of a drawing, in px at 96 px per inch; text keeps its size.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
#[schema(as = DrawingWidth)]
pub enum Width {
    /// 660 px: a page's text column, and across the paper.
    #[default]
    Page,
    /// 340 px: a phone held upright.
    Phone,
}

impl Width {
    fn px(self) -> f64 {
        match self {
            Self::Page => 660.0,
            Self::Phone => 340.0,
        }
    }
}

/// Draws a chart.
pub fn draw(chart: &Chart, width: Width) -> String {
    match chart {
        Chart::Means(chart) => means::draw(chart, width.px()),
        Chart::Differences(chart) => differences::draw(chart, width.px()),
        Chart::Interaction(chart) => interaction::draw(chart, width.px()),
        Chart::ResponseCurve(chart) => response_curve::draw(chart, width.px()),
        Chart::Residuals(chart) => residuals::draw(chart, width.px()),
        Chart::PlotMap(map) => plot_map::draw(map, width.px()),
    }
}

/// A chart with its caption, its numbers and its drawings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Figure {
    /// Caption: what is shown, and what the interval bars are.
    pub caption: String,
    /// The numbers, for whoever wants to draw or read them otherwise.
    pub chart: Chart,
    /// The drawing at page width.
    pub svg: String,
    /// The same at phone width.
    pub svg_phone: String,
}

impl Figure {
    /// Draws `chart` at both widths.
    pub fn new(caption: impl Into<String>, chart: Chart) -> Self {
        Self { caption: caption.into(), svg: draw(&chart, Width::Page), svg_phone: draw(&chart, Width::Phone), chart }
    }
}
