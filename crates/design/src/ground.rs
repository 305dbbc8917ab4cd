//! What a person decides about the ground: sizes of plots, alleys, guard plots, numbering, directions.

use crate::ground_error::GroundError;
use crate::notice::{Notice, NoticeTopic};
use serde::{Deserialize, Serialize};

/// The longest side or widest alley that is taken for meant, m; not a rule of the trade.
const LONGEST_SIDE_M: f64 = 1_000.0;
/// The most guard plots or guard ranges at one place; not a rule of the trade.
const MOST_GUARDS: usize = 50;
/// Lengths are compared to the tenth of a millimetre, so that 8 rows of 0.19 m fit in 1.52 m.
const SAME_LENGTH_M: f64 = 1e-4;

/// How the plots are to lie on the ground.
///
/// The text drawing at [`crate::lay_out`] shows each of these.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Ground {
    /// Length of a plot along the pass, m, without the alleys.
    pub plot_length_m: f64,
    /// Width of a plot across the pass, m: rows times row spacing, and whatever lies between two passes.
    pub plot_width_m: f64,
    /// Length that is harvested, m, after the ends are trimmed.
    pub harvested_length_m: f64,
    /// Width that is harvested, m: harvested rows times row spacing.
    pub harvested_width_m: f64,
    /// Crop rows in a plot, when known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rows: Option<u32>,
    /// Distance between crop rows, m, when known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub row_spacing_m: Option<f64>,
    /// Plots side by side in one range of a replicate (a completely random trial counts as one replicate).
    pub plots_per_range: usize,
    /// Ranges of one replicate; when given, it must be what the plots need.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ranges_per_replicate: Option<usize>,
    /// How plot numbers run.
    #[serde(default)]
    pub numbering: Numbering,
    /// Alley between ranges of one replicate, and between a guard range and its neighbour, m.
    pub alley_between_ranges_m: f64,
    /// Alley between replicates, m.
    pub alley_between_replicates_m: f64,
    /// Guard plots at each end of every range.
    #[serde(default)]
    pub guards_at_range_ends: usize,
    /// Guard plots between neighbouring main plots; only in a split-plot with main plots side by side.
    #[serde(default)]
    pub guards_between_main_plots: usize,
    /// Ranges of guard plots before the first and behind the last replicate.
    #[serde(default)]
    pub guard_ranges: usize,
    /// Compass bearing, degrees from north through east, of the way from the front (range 1) to the back.
    #[serde(default)]
    pub north_bearing_deg: f64,
    /// Corner at which the seeder begins.
    #[serde(default)]
    pub seeder_start: Corner,
}

/// How plot numbers run through the ranges.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Numbering {
    /// Every range from left to right.
    Straight,
    /// The first range from left to right, the next from right to left, and so on through the whole trial.
    #[default]
    Serpentine,
}

/// A corner of the trial as one stands in front of range 1 and looks at it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Corner {
    /// Range 1, pass 1: the point from which x and y are measured.
    #[default]
    FrontLeft,
    /// Range 1, last pass.
    FrontRight,
    /// Last range, pass 1.
    BackLeft,
    /// Last range, last pass.
    BackRight,
}

impl Ground {
    /// Area of a plot, m2, without alleys.
    pub fn plot_area_m2(&self) -> f64 {
        self.plot_length_m * self.plot_width_m
    }

    /// Area that is harvested of a plot, m2.
    pub fn harvested_area_m2(&self) -> f64 {
        self.harvested_length_m * self.harvested_width_m
    }

    /// Whether these decisions can be carried out, whatever is laid out on them.
    ///
    /// # Errors
    /// The first of [`Self::problems`].
    pub fn check(&self) -> Result<(), GroundError> {
        self.problems().into_iter().next().map_or(Ok(()), Err)
    }

    /// Everything that is wrong with these decisions in themselves, for showing all at once.
    pub fn problems(&self) -> Vec<GroundError> {
        let mut problems = self.sides_out_of_reach();
        problems.extend(self.harvested_beyond_plot());
        problems.extend(self.rows_wider_than_plot());
        problems.extend(self.counts_out_of_reach());
        if !(0.0..360.0).contains(&self.north_bearing_deg) {
            problems.push(GroundError::Bearing { bearing: self.north_bearing_deg });
        }
        problems
    }

    /// What a person should know about these sizes.
    ///
    /// Under two fifths harvested is remarked on; common practice, no source.
    pub fn notices(&self) -> Vec<Notice> {
        let share = self.harvested_area_m2() / self.plot_area_m2();
        if share >= 0.4 {
            return Vec::new();
        }
        let sentence = format!(
            "Only {:.0} % of each plot will be harvested ({:.2} of {:.2} m2); check the harvested length and width.",
            100.0 * share,
            self.harvested_area_m2(),
            self.plot_area_m2()
        );
        vec![Notice { topic: NoticeTopic::LittleHarvested, sentence }]
    }

    fn sides_out_of_reach(&self) -> Vec<GroundError> {
        let sides = [
            ("plot length", self.plot_length_m),
            ("plot width", self.plot_width_m),
            ("harvested length", self.harvested_length_m),
            ("harvested width", self.harvested_width_m),
        ];
        let alleys = [
            ("alley between ranges", self.alley_between_ranges_m),
            ("alley between replicates", self.alley_between_replicates_m),
        ];
        let sides = sides.into_iter().chain(self.row_spacing_m.map(|spacing| ("row spacing", spacing)));
        let bad_side = |&(_, side): &(&str, f64)| !(side > 0.0 && side <= LONGEST_SIDE_M);
        let bad_alley = |&(_, side): &(&str, f64)| !(0.0..=LONGEST_SIDE_M).contains(&side);
        let as_side = |(what, metres)| GroundError::Side { what, metres, longest: LONGEST_SIDE_M };
        let as_alley = |(what, metres)| GroundError::Alley { what, metres, widest: LONGEST_SIDE_M };
        let sides = sides.filter(bad_side).map(as_side);
        sides.chain(alleys.into_iter().filter(bad_alley).map(as_alley)).collect()
    }

    fn harvested_beyond_plot(&self) -> Vec<GroundError> {
        let pairs = [
            ("length", self.harvested_length_m, self.plot_length_m),
            ("width", self.harvested_width_m, self.plot_width_m),
        ];
        let beyond = pairs.into_iter().filter(|(_, harvested, plot)| *harvested > *plot + SAME_LENGTH_M);
        beyond.map(|(side, harvested, plot)| GroundError::HarvestedBeyondPlot { side, harvested, plot }).collect()
    }

    fn rows_wider_than_plot(&self) -> Option<GroundError> {
        let (Some(rows), spacing) = (self.rows, self.row_spacing_m) else { return None };
        if rows == 0 {
            return Some(GroundError::NoRows);
        }
        let spacing = spacing?;
        let needed = f64::from(rows) * spacing;
        let too_wide = needed > self.plot_width_m + SAME_LENGTH_M;
        too_wide.then_some(GroundError::RowsWiderThanPlot { rows, spacing, needed, width: self.plot_width_m })
    }

    fn counts_out_of_reach(&self) -> Vec<GroundError> {
        let guards = [
            ("guard plots at each end of a range", self.guards_at_range_ends),
            ("guard plots between main plots", self.guards_between_main_plots),
            ("guard ranges at the front and at the back", self.guard_ranges),
        ];
        let too_many = guards.into_iter().filter(|(_, count)| *count > MOST_GUARDS);
        let too_many = too_many.map(|(what, count)| GroundError::TooManyGuards { what, count, most: MOST_GUARDS });
        let no_range = (self.plots_per_range == 0).then_some(GroundError::NoPlotsPerRange);
        no_range.into_iter().chain(too_many).collect()
    }
}
