//! What is analysed: one response on the plots of one arrangement.

use guardrow_design::{BlockStructure, TreatmentStructure};

/// One response with the units and treatments of every plot.
///
/// All vectors that run over plots have the same length, plots in any order.
#[derive(Debug, Clone, PartialEq)]
pub struct Experiment {
    /// Units of the ground; the innermost unit is the plot.
    pub blocks: BlockStructure,
    /// For each kind of unit in `blocks`, by name: each plot's unit, as an index that need only be unique within
    /// the unit that it is nested in. The plot itself may be left out.
    pub units: Vec<(String, Vec<usize>)>,
    /// Factors and controls.
    pub treatments: TreatmentStructure,
    /// For each plot the index of its treatment in `treatments.treatments()`.
    pub treatment: Vec<usize>,
    /// For each plot the value, in one unit; `None` where there is none.
    pub response: Vec<Option<f64>>,
}
