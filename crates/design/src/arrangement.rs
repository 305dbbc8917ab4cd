//! How treatments are put on the ground: which units there are and to which unit each factor is randomised.

use serde::{Deserialize, Serialize};

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
