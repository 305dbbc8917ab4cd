//! Analysis of designed experiments, from the units and treatments as they were randomised.

mod experiment;

pub use experiment::Experiment;
