//! The treatments of a trial: every combination of its factors, and the controls that stand outside them.

use crate::Factor;
use serde::{Deserialize, Serialize};

/// Factors crossed with one another, and controls beside the factorial.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
pub struct TreatmentStructure {
    /// At least one factor, unless there are only controls (which is refused).
    pub factors: Vec<Factor>,
    /// Treatments outside the factorial.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub controls: Vec<Control>,
}

/// A treatment that stands outside the factorial.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Control {
    /// Short name, unique among all treatments.
    pub label: String,
    /// How many plots it has where every other treatment has one (per replicate); at least 1.
    #[serde(default = "one")]
    pub plots_per_replicate: usize,
}

fn one() -> usize {
    1
}

/// One treatment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Treatment {
    /// Number of the treatment from 1; it stays the same for the whole trial.
    pub number: usize,
    /// `level, level` in factor order, or the control's name.
    pub label: String,
    /// Index of the level of each factor, in factor order; empty for a control.
    pub levels: Vec<usize>,
}

impl TreatmentStructure {
    /// All treatments: the factorial with the first factor changing slowest, then the controls.
    pub fn treatments(&self) -> Vec<Treatment> {
        let mut combinations: Vec<Vec<usize>> = if self.factors.is_empty() { Vec::new() } else { vec![Vec::new()] };
        for factor in &self.factors {
            combinations = combinations
                .iter()
                .flat_map(|head| (0..factor.levels.len()).map(move |level| [head.as_slice(), &[level]].concat()))
                .collect();
        }
        let factorial = combinations.into_iter().map(|levels| (self.label_of(&levels), levels));
        let controls = self.controls.iter().map(|control| (control.label.clone(), Vec::new()));
        factorial
            .chain(controls)
            .enumerate()
            .map(|(index, (label, levels))| Treatment { number: index + 1, label, levels })
            .collect()
    }

    fn label_of(&self, levels: &[usize]) -> String {
        let labels: Vec<&str> =
            self.factors.iter().zip(levels).map(|(factor, &level)| factor.levels[level].label.as_str()).collect();
        labels.join(", ")
    }
}
