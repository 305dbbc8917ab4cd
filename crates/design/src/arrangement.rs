//! How treatments are put on the ground: which units there are and to which unit each factor is randomised.

use crate::limits::MOST_PLOTS;
use crate::stated_units::StatedUnits;
use crate::{BlockStructure, DesignError, Stratum, TreatmentStructure};
use serde::{Deserialize, Serialize};

/// Unit name of a replicate in which every treatment stands.
pub const BLOCK: &str = "block";
/// Unit name of a replicate that is cut into smaller blocks, or into rows and columns.
pub const REPLICATE: &str = "replicate";
/// Unit name of one of several Latin squares.
pub const SQUARE: &str = "square";
/// Unit name of one farm of a trial on several farms.
pub const FARM: &str = "farm";
/// Unit name of a strip on a farm.
pub const STRIP: &str = "strip";
/// Unit name of a row of plots, crossed with columns.
pub const ROW: &str = "row";
/// Unit name of a column of plots, crossed with rows.
pub const COLUMN: &str = "column";
/// Unit name of a strip that carries the first set of factors of a strip-plot.
pub const STRIP_ACROSS: &str = "strip across";
/// Unit name of a strip that carries the second set of factors of a strip-plot.
pub const STRIP_ALONG: &str = "strip along";
/// Unit name of the larger unit of a split-plot.
pub const MAIN_PLOT: &str = "main plot";
/// Unit name of the middle unit of a split-split-plot.
pub const SUBPLOT: &str = "subplot";
/// Unit name of the smallest unit that is randomised.
pub const PLOT: &str = "plot";

/// An arrangement: from this one value come the randomisation, the map, the field sheets and the analysis.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Arrangement {
    /// Treatments on plots without blocks.
    CompletelyRandom {
        /// Plots per treatment.
        replicates: usize,
    },
    /// Every treatment once (a control perhaps more often) in each replicate.
    RandomisedBlocks {
        /// Number of replicates.
        replicates: usize,
    },
    /// Every treatment once in each row and once in each column of a square.
    LatinSquare {
        /// Plots per treatment: as many as there are treatments, or a multiple of that for several squares.
        replicates: usize,
    },
    /// Main-plot factors on main plots in each replicate, the other factors on plots within main plots.
    SplitPlot {
        /// Number of replicates.
        replicates: usize,
        /// Names of the factors that are randomised to main plots.
        main_plot_factors: Vec<String>,
    },
    /// Main-plot factors on main plots, subplot factors on subplots within them, the other factors on plots within subplots.
    SplitSplitPlot {
        /// Number of replicates.
        replicates: usize,
        /// Names of the factors that are randomised to main plots.
        main_plot_factors: Vec<String>,
        /// Names of the factors that are randomised to subplots.
        subplot_factors: Vec<String>,
    },
    /// In each replicate, strips one way carry some factors and strips the other way others; what factors are left stand on
    /// plots where two strips meet.
    StripPlot {
        /// Number of replicates.
        replicates: usize,
        /// Names of the factors that are randomised to the strips across.
        across_factors: Vec<String>,
        /// Names of the factors that are randomised to the strips along.
        along_factors: Vec<String>,
    },
    /// Replicates cut into blocks that each hold a part of the treatments; also a factorial with effects given up to blocks.
    IncompleteBlocks {
        /// Number of replicates.
        replicates: usize,
        /// Plots in a block.
        block_size: usize,
    },
    /// Replicates in which every plot lies in a row and in a column.
    RowColumn {
        /// Number of replicates.
        replicates: usize,
        /// Rows of a replicate.
        rows: usize,
        /// Columns of a replicate.
        columns: usize,
    },
    /// Many treatments with one plot each, and checks that stand in every block.
    AugmentedBlocks {
        /// Number of blocks.
        replicates: usize,
        /// Labels of the treatments that stand in every block.
        checks: Vec<String>,
    },
    /// Every treatment on one strip of each farm; the farm is the replicate.
    FarmStrips {
        /// Number of farms.
        replicates: usize,
    },
    /// Units stated one by one, for a trial that was laid out elsewhere.
    Stated(StatedUnits),
}

impl Arrangement {
    /// How often each treatment of the factorial stands in the trial (checks only, in augmented blocks).
    pub fn replicates(&self) -> usize {
        match self {
            Self::CompletelyRandom { replicates }
            | Self::RandomisedBlocks { replicates }
            | Self::LatinSquare { replicates }
            | Self::SplitPlot { replicates, .. }
            | Self::SplitSplitPlot { replicates, .. }
            | Self::StripPlot { replicates, .. }
            | Self::IncompleteBlocks { replicates, .. }
            | Self::RowColumn { replicates, .. }
            | Self::AugmentedBlocks { replicates, .. }
            | Self::FarmStrips { replicates } => *replicates,
            Self::Stated(stated) => stated.replicates,
        }
    }

    /// The same arrangement with another number of replicates.
    pub fn with_replicates(&self, number: usize) -> Self {
        let mut other = self.clone();
        match &mut other {
            Self::CompletelyRandom { replicates }
            | Self::RandomisedBlocks { replicates }
            | Self::LatinSquare { replicates }
            | Self::SplitPlot { replicates, .. }
            | Self::SplitSplitPlot { replicates, .. }
            | Self::StripPlot { replicates, .. }
            | Self::IncompleteBlocks { replicates, .. }
            | Self::RowColumn { replicates, .. }
            | Self::AugmentedBlocks { replicates, .. }
            | Self::FarmStrips { replicates } => *replicates = number,
            Self::Stated(stated) => stated.replicates = number,
        }
        other
    }

    /// The units of the ground, such as `block / main plot / plot`.
    ///
    /// - `treatments`: they decide whether a Latin square is one of several, and whether strips meet in one plot or in several
    pub fn block_structure(&self, treatments: &TreatmentStructure) -> BlockStructure {
        let unit = BlockStructure::unit;
        match self {
            Self::CompletelyRandom { .. } => unit(PLOT),
            Self::RandomisedBlocks { .. } | Self::AugmentedBlocks { .. } => unit(BLOCK).nest(unit(PLOT)),
            Self::LatinSquare { replicates } => {
                let square = unit(ROW).cross(unit(COLUMN));
                if *replicates > treatments.plots_per_replicate() { unit(SQUARE).nest(square) } else { square }
            }
            Self::SplitPlot { .. } => unit(BLOCK).nest(unit(MAIN_PLOT).nest(unit(PLOT))),
            Self::SplitSplitPlot { .. } => unit(BLOCK).nest(unit(MAIN_PLOT).nest(unit(SUBPLOT).nest(unit(PLOT)))),
            Self::StripPlot { .. } => {
                let strips = unit(STRIP_ACROSS).cross(unit(STRIP_ALONG));
                let split = treatments.factors.iter().any(|factor| self.randomised_to(&factor.name).is_none());
                unit(BLOCK).nest(if split { strips.nest(unit(PLOT)) } else { strips })
            }
            Self::IncompleteBlocks { .. } => unit(REPLICATE).nest(unit(BLOCK).nest(unit(PLOT))),
            Self::RowColumn { .. } => unit(REPLICATE).nest(unit(ROW).cross(unit(COLUMN))),
            Self::FarmStrips { .. } => unit(FARM).nest(unit(STRIP)),
            Self::Stated(stated) => stated.units.clone(),
        }
    }

    /// The unit to which a factor is randomised, where it is not the smallest one.
    fn randomised_to(&self, factor: &str) -> Option<&str> {
        let among = |names: &[String]| names.iter().any(|name| name == factor);
        match self {
            Self::SplitPlot { main_plot_factors, .. } | Self::SplitSplitPlot { main_plot_factors, .. }
                if among(main_plot_factors) =>
            {
                Some(MAIN_PLOT)
            }
            Self::SplitSplitPlot { subplot_factors, .. } if among(subplot_factors) => Some(SUBPLOT),
            Self::StripPlot { across_factors, .. } if among(across_factors) => Some(STRIP_ACROSS),
            Self::StripPlot { along_factors, .. } if among(along_factors) => Some(STRIP_ALONG),
            Self::Stated(stated) => stated.unit_of(factor),
            _ => None,
        }
    }

    /// The stratum in which a treatment term is compared: the outermost that tells apart all units its factors stand on.
    ///
    /// - `factors`: names of the term's factors; none for the controls beside the factorial, which stand on the smallest unit
    ///
    /// A main-plot factor is compared between main plots, its interaction with a factor on plots between plots, an interaction
    /// of strips across and along where these meet.
    pub fn stratum_of(&self, factors: &[&str], treatments: &TreatmentStructure) -> Stratum {
        let strata = self.block_structure(treatments).strata();
        let innermost = strata.last().expect("every structure has a stratum").clone();
        let mut needed: Vec<String> = Vec::new();
        for factor in factors {
            let own = match self.randomised_to(factor) {
                Some(unit) => smallest_with(&strata, &[unit.to_owned()]),
                None => innermost.clone(),
            };
            needed.extend(own.units);
        }
        if factors.is_empty() { innermost } else { smallest_with(&strata, &needed) }
    }

    /// The name of the stratum that one factor is compared in: `main plot`, `plot`, `row x column`.
    pub fn unit_of(&self, factor: &str, treatments: &TreatmentStructure) -> String {
        self.stratum_of(&[factor], treatments).name
    }

    /// The factors that are randomised to this unit itself, by index.
    pub fn factors_on(&self, unit: &str, treatments: &TreatmentStructure) -> Vec<usize> {
        let on = |name: &str| self.randomised_to(name) == Some(unit);
        (0..treatments.factors.len()).filter(|&index| on(&treatments.factors[index].name)).collect()
    }

    /// How many plots carry a treatment; guard plots are not counted. Capped at the largest countable number.
    pub fn plot_count(&self, treatments: &TreatmentStructure) -> usize {
        let all = treatments.plots_per_replicate().saturating_mul(self.replicates());
        match self {
            Self::AugmentedBlocks { replicates, checks } => {
                let entries = treatments.treatment_count().saturating_sub(checks.len());
                entries.saturating_add(checks.len().saturating_mul(*replicates))
            }
            _ => all,
        }
    }

    /// How many units of each stratum there are in the whole trial, in the order of the strata; nothing where units are stated,
    /// since only the table of plots tells them.
    pub fn unit_counts(&self, treatments: &TreatmentStructure) -> Option<Vec<usize>> {
        let strata = self.block_structure(treatments).strata();
        let plots = self.plot_count(treatments);
        let within = |unit: &str| self.units_within(unit, treatments);
        let mut counts = Vec::with_capacity(strata.len());
        for (index, stratum) in strata.iter().enumerate() {
            let is_innermost = index + 1 == strata.len();
            let product = || stratum.units.iter().map(|unit| within(unit)).product::<Option<usize>>();
            counts.push(if is_innermost { plots } else { product()? });
        }
        Some(counts)
    }

    /// How many units of this kind one unit around them holds.
    fn units_within(&self, unit: &str, treatments: &TreatmentStructure) -> Option<usize> {
        let combinations = |unit: &str| -> usize {
            let factors = self.factors_on(unit, treatments);
            factors.iter().map(|&index| treatments.factors[index].levels.len()).product()
        };
        let per_replicate = treatments.plots_per_replicate();
        match (self, unit) {
            (Self::LatinSquare { replicates }, SQUARE) => replicates.checked_div(per_replicate),
            (Self::LatinSquare { .. }, _) => Some(per_replicate),
            (Self::IncompleteBlocks { block_size, .. }, BLOCK) => per_replicate.checked_div(*block_size),
            (Self::RowColumn { rows, .. }, ROW) => Some(*rows),
            (Self::RowColumn { columns, .. }, COLUMN) => Some(*columns),
            (Self::Stated(_), _) => None,
            (_, BLOCK | REPLICATE | FARM) => Some(self.replicates()),
            (_, MAIN_PLOT | SUBPLOT | STRIP_ACROSS | STRIP_ALONG) => Some(combinations(unit)),
            _ => None,
        }
    }

    /// Whether these treatments can be arranged so.
    ///
    /// # Errors
    /// The first of [`Self::problems`].
    pub fn check(&self, treatments: &TreatmentStructure) -> Result<(), DesignError> {
        self.problems(treatments).into_iter().next().map_or(Ok(()), Err)
    }

    /// Everything that is wrong with the treatments and with arranging them so, for showing all at once.
    pub fn problems(&self, treatments: &TreatmentStructure) -> Vec<DesignError> {
        let mut problems = treatments.problems();
        problems.extend(self.factors_named_like_units(treatments));
        if self.replicates() == 0 {
            problems.push(DesignError::NoReplicates);
        }
        problems.extend(crate::arrangement_problems::of_kind(self, treatments));
        let plots = self.plot_count(treatments);
        if plots > MOST_PLOTS {
            problems.push(DesignError::TooManyPlots { plots });
        }
        problems
    }

    fn factors_named_like_units(&self, treatments: &TreatmentStructure) -> Vec<DesignError> {
        let units = self.block_structure(treatments).units();
        let is_unit = |name: &str| units.iter().any(|unit| unit.eq_ignore_ascii_case(name.trim()));
        let clashing = treatments.factors.iter().filter(|factor| is_unit(&factor.name));
        clashing.map(|factor| DesignError::FactorNamedLikeUnit { name: factor.name.clone() }).collect()
    }
}

/// The stratum with the fewest units that tells all of these apart.
fn smallest_with(strata: &[Stratum], units: &[String]) -> Stratum {
    let holding = strata.iter().filter(|stratum| units.iter().all(|unit| stratum.units.contains(unit)));
    let smallest = holding.min_by_key(|stratum| stratum.units.len());
    smallest.or(strata.last()).expect("every structure has a stratum").clone()
}
