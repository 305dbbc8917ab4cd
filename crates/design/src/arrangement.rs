//! How treatments are put on the ground: which units there are and to which unit each factor is randomised.

use crate::limits::MOST_PLOTS;
use crate::{BlockStructure, DesignError, TreatmentStructure};
use serde::{Deserialize, Serialize};

/// Unit name of a replicate in which every treatment stands.
pub const BLOCK: &str = "block";
/// Unit name of the larger unit of a split-plot.
pub const MAIN_PLOT: &str = "main plot";
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
    /// Main-plot factors on main plots in each replicate, the other factors on plots within main plots.
    SplitPlot {
        /// Number of replicates.
        replicates: usize,
        /// Names of the factors that are randomised to main plots.
        main_plot_factors: Vec<String>,
    },
}

impl Arrangement {
    /// How often each treatment of the factorial stands in the trial.
    pub fn replicates(&self) -> usize {
        match self {
            Self::CompletelyRandom { replicates }
            | Self::RandomisedBlocks { replicates }
            | Self::SplitPlot { replicates, .. } => *replicates,
        }
    }

    /// The same arrangement with another number of replicates.
    pub fn with_replicates(&self, replicates: usize) -> Self {
        match self {
            Self::CompletelyRandom { .. } => Self::CompletelyRandom { replicates },
            Self::RandomisedBlocks { .. } => Self::RandomisedBlocks { replicates },
            Self::SplitPlot { main_plot_factors, .. } => {
                Self::SplitPlot { replicates, main_plot_factors: main_plot_factors.clone() }
            }
        }
    }

    /// The units of the ground: `plot`, `block / plot` or `block / main plot / plot`.
    pub fn block_structure(&self) -> BlockStructure {
        let unit = BlockStructure::unit;
        match self {
            Self::CompletelyRandom { .. } => unit(PLOT),
            Self::RandomisedBlocks { .. } => unit(BLOCK).nest(unit(PLOT)),
            Self::SplitPlot { .. } => unit(BLOCK).nest(unit(MAIN_PLOT).nest(unit(PLOT))),
        }
    }

    /// The name of the unit that the factor is randomised to; it is the name of a stratum of [`Self::block_structure`].
    ///
    /// A treatment term (an interaction too) is tested in the stratum of the innermost unit among its factors.
    pub fn unit_of(&self, factor: &str) -> &'static str {
        match self {
            Self::SplitPlot { main_plot_factors, .. } if main_plot_factors.iter().any(|name| name == factor) => {
                MAIN_PLOT
            }
            _ => PLOT,
        }
    }

    /// Number of plots that carry a treatment; guard plots are not counted. Capped at the largest countable number.
    pub fn plot_count(&self, treatments: &TreatmentStructure) -> usize {
        treatments.plots_per_replicate().saturating_mul(self.replicates())
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
        if let Self::SplitPlot { main_plot_factors, .. } = self {
            problems.extend(split_plot_problems(main_plot_factors, treatments));
        }
        let plots = self.plot_count(treatments);
        if plots > MOST_PLOTS {
            problems.push(DesignError::TooManyPlots { plots });
        }
        problems
    }

    fn factors_named_like_units(&self, treatments: &TreatmentStructure) -> Vec<DesignError> {
        let units = self.block_structure().units();
        let is_unit = |name: &str| units.iter().any(|unit| unit.eq_ignore_ascii_case(name.trim()));
        let clashing = treatments.factors.iter().filter(|factor| is_unit(&factor.name));
        clashing.map(|factor| DesignError::FactorNamedLikeUnit { name: factor.name.clone() }).collect()
    }
}

fn split_plot_problems(main_plot_factors: &[String], treatments: &TreatmentStructure) -> Vec<DesignError> {
    let factors: Vec<&str> = treatments.factors.iter().map(|factor| factor.name.as_str()).collect();
    let mut problems = Vec::new();
    if main_plot_factors.is_empty() {
        problems.push(DesignError::NoMainPlotFactor);
    }
    for (index, name) in main_plot_factors.iter().enumerate() {
        if !factors.contains(&name.as_str()) {
            problems.push(unknown_main_plot_factor(name, &factors));
        } else if main_plot_factors[..index].contains(name) {
            problems.push(DesignError::MainPlotFactorTwice { name: name.clone() });
        }
    }
    if !factors.is_empty() && factors.iter().all(|factor| main_plot_factors.iter().any(|name| name == factor)) {
        problems.push(DesignError::NoFactorWithinMainPlots { factors: factors.join(", ") });
    }
    let controls = treatments.controls.iter();
    problems.extend(controls.map(|control| DesignError::ControlInSplitPlot { label: control.label.clone() }));
    problems
}

fn unknown_main_plot_factor(name: &str, factors: &[&str]) -> DesignError {
    let likeness = |factor: &str| strsim::jaro_winkler(&factor.to_lowercase(), &name.trim().to_lowercase());
    let nearest = factors.iter().max_by(|a, b| likeness(a).total_cmp(&likeness(b)));
    // 0.8: near enough for a slip of one or two letters in a short word; a wrong guess is only a question.
    let nearest = nearest.filter(|factor| likeness(factor) >= 0.8).map(|factor| (*factor).to_owned());
    DesignError::UnknownMainPlotFactor { name: name.to_owned(), known: factors.join(", "), nearest }
}
