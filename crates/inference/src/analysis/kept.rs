//! What further questions to an analysis are answered from.

use crate::Experiment;
use crate::fit::Fit;
use crate::mixed::MixedAnalysis;
use crate::model::Partition;
use crate::plots::Plots;
use crate::strata::OrthogonalLayout;
use crate::terms::Term;

/// The leading fit and what it was made from. It is not written to a file: the plots can be analysed again.
#[derive(Debug, Clone)]
pub(crate) struct Kept {
    /// The fit that comparisons are computed from.
    pub fit: Fit,
    /// What was analysed.
    pub experiment: Experiment,
    /// The plots with a value.
    pub plots: Plots,
    /// The fixed terms.
    pub terms: Vec<Term>,
    /// All random terms, the plots last.
    pub partitions: Vec<Partition>,
    /// The strata, where the layout is orthogonal and they lead.
    pub layout: Option<OrthogonalLayout>,
    /// The mixed model, where there is one.
    pub mixed: Option<MixedAnalysis>,
}

impl PartialEq for Kept {
    /// What is kept follows from the experiment; two analyses that agree in all they say are the same.
    fn eq(&self, _other: &Self) -> bool {
        true
    }
}
