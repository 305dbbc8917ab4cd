//! What can be wrong with decisions about the ground.

/// Why plots cannot be laid out so.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum GroundError {
    /// A side is not a length.
    #[error("the {what} is {metres} m; it must be more than 0 and at most {longest} m")]
    Side {
        /// Which side.
        what: &'static str,
        /// What was given, m.
        metres: f64,
        /// The most that is accepted, m.
        longest: f64,
    },
    /// An alley is not a width.
    #[error("the {what} is {metres} m; it must be from 0 to {widest} m")]
    Alley {
        /// Which alley.
        what: &'static str,
        /// What was given, m.
        metres: f64,
        /// The most that is accepted, m.
        widest: f64,
    },
    /// More is harvested than there is.
    #[error("the harvested {side} is {harvested} m, but the plot's {side} is only {plot} m")]
    HarvestedBeyondPlot {
        /// `length` or `width`.
        side: &'static str,
        /// Harvested, m.
        harvested: f64,
        /// Of the plot, m.
        plot: f64,
    },
    /// A plot has no rows.
    #[error("a plot has 0 rows; at least 1 is needed")]
    NoRows,
    /// The rows do not fit in the plot.
    #[error("{rows} rows {spacing} m apart take {needed:.2} m, but a plot is only {width} m wide")]
    RowsWiderThanPlot {
        /// Number of rows.
        rows: u32,
        /// Distance between rows, m.
        spacing: f64,
        /// Width that they take, m.
        needed: f64,
        /// Width of the plot, m.
        width: f64,
    },
    /// A bearing is not on the compass.
    #[error("the bearing is {bearing} degrees; it must be from 0 to less than 360")]
    Bearing {
        /// What was given, degrees.
        bearing: f64,
    },
    /// A range holds no plots.
    #[error("a range has 0 plots; at least 1 is needed")]
    NoPlotsPerRange,
    /// More guards than can be meant.
    #[error("there are to be {count} {what}; at most {most} can be handled")]
    TooManyGuards {
        /// Which guards.
        what: &'static str,
        /// What was given.
        count: usize,
        /// The most that is accepted.
        most: usize,
    },
    /// A range is longer than a replicate.
    #[error("a range is to hold {plots_per_range} plots, but a replicate has only {plots} plots")]
    RangeBeyondReplicate {
        /// What was given.
        plots_per_range: usize,
        /// Plots of a replicate.
        plots: usize,
    },
    /// The number of ranges is not what the plots need.
    #[error("ranges of a replicate: {ranges} given, but {plots} plots with {plots_per_range} in a range take {needed}")]
    WrongRanges {
        /// What was given.
        ranges: usize,
        /// Plots side by side in one range.
        plots_per_range: usize,
        /// Plots of a replicate.
        plots: usize,
        /// Ranges that they take.
        needed: usize,
    },
    /// An alley would cut through a main plot.
    #[error(
        "a main plot has {plots_per_main_plot} plots and a range {plots_per_range}, so an alley would cut through main plots"
    )]
    MainPlotCut {
        /// Plots of a main plot.
        plots_per_main_plot: usize,
        /// Plots side by side in one range.
        plots_per_range: usize,
    },
    /// Guards are asked for between main plots, and no two lie side by side.
    #[error(
        "guard plots between main plots are asked for ({guards}), but no two main plots lie side by side in a range"
    )]
    NoMainPlotsSideBySide {
        /// What was given.
        guards: usize,
    },
    /// A draw is not whole.
    #[error("the draw is not whole: {fault}")]
    DrawNotWhole {
        /// What was found, with the replicate.
        fault: String,
    },
}

impl GroundError {
    /// What the person can do about it.
    pub fn help(&self) -> String {
        match self {
            Self::Side { .. } => "Type the length in metres, or with its unit.".into(),
            Self::Alley { .. } => "Type the width in metres, or with its unit; 0 is no alley.".into(),
            Self::HarvestedBeyondPlot { .. } => "Make the plot larger or harvest less of it; alleys do not belong to the plot.".into(),
            Self::NoRows => "Type how many rows the seeder makes in one pass, or leave it out.".into(),
            Self::RowsWiderThanPlot { .. } => "A plot's width is rows times row spacing: half a space belongs to each outer row.".into(),
            Self::Bearing { .. } => "Type the compass bearing from the front of the trial to its back: 0 north, 90 east, 180 south, 270 west.".into(),
            Self::NoPlotsPerRange => "Type how many plots lie side by side in one range.".into(),
            Self::TooManyGuards { .. } => "Check the number; one or two are usual.".into(),
            Self::RangeBeyondReplicate { plots, .. } => format!("Use {plots} or fewer plots in a range; ranges hold plots of one replicate."),
            Self::WrongRanges { needed, .. } => format!("Use {needed}, leave it out, or change the number of plots in a range; a last range that is not full is filled with guard plots."),
            Self::MainPlotCut { plots_per_main_plot, .. } => format!("Use {plots_per_main_plot} plots in a range or a multiple of it, or a number that divides {plots_per_main_plot}."),
            Self::NoMainPlotsSideBySide { .. } => "Ask for none, or make ranges long enough for two main plots.".into(),
            Self::DrawNotWhole { .. } => "Draw again from the same seed; a draw must not be changed by hand.".into(),
        }
    }
}
