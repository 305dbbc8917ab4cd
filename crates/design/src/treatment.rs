//! The treatments of a trial: every combination of its factors, and the controls that stand outside them.

use crate::limits::MOST_TREATMENTS;
use crate::{DesignError, Factor};
use serde::{Deserialize, Serialize};
use std::collections::HashSet;

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
    /// Number of treatments, controls included. Capped at the largest countable number.
    pub fn treatment_count(&self) -> usize {
        self.factorial_count().saturating_add(self.controls.len())
    }

    /// Number of treatments of the factorial, controls not included.
    pub fn factorial_count(&self) -> usize {
        if self.factors.is_empty() {
            return 0;
        }
        self.factors.iter().fold(1, |count: usize, factor| count.saturating_mul(factor.levels.len()))
    }

    /// How many plots a replicate holds: one per treatment of the factorial, and each control's own number.
    pub fn plots_per_replicate(&self) -> usize {
        let controls = self.controls.iter().map(|control| control.plots_per_replicate);
        controls.fold(self.factorial_count(), usize::saturating_add)
    }

    /// How many plots the treatment with this index (into [`Self::treatments`]) has in a replicate.
    pub fn plots_of(&self, treatment: usize) -> usize {
        let control = treatment.checked_sub(self.factorial_count()).and_then(|index| self.controls.get(index));
        control.map_or(1, |control| control.plots_per_replicate)
    }

    /// Whether the factors, levels and controls are complete and can be told apart.
    ///
    /// # Errors
    /// The first of [`Self::problems`].
    pub fn check(&self) -> Result<(), DesignError> {
        self.problems().into_iter().next().map_or(Ok(()), Err)
    }

    /// Everything that is wrong with the treatments, for showing all at once.
    pub fn problems(&self) -> Vec<DesignError> {
        let mut problems = self.factor_problems();
        problems.extend(self.control_problems());
        let treatments = self.treatment_count();
        if treatments > MOST_TREATMENTS {
            problems.push(DesignError::TooManyTreatments { treatments });
        } else if problems.is_empty() {
            problems.extend(self.treatments_that_share_a_label());
        }
        problems
    }

    fn factor_problems(&self) -> Vec<DesignError> {
        let mut problems = Vec::new();
        if self.factors.is_empty() {
            problems.push(DesignError::NoFactor);
        }
        let mut seen = HashSet::new();
        for (index, factor) in self.factors.iter().enumerate() {
            if factor.name.trim().is_empty() {
                problems.push(DesignError::FactorWithoutName { position: index + 1 });
            } else if !seen.insert(as_told_apart(&factor.name)) {
                problems.push(DesignError::FactorTwice { name: factor.name.clone() });
            }
            problems.extend(factor.problems());
        }
        problems
    }

    fn control_problems(&self) -> Vec<DesignError> {
        let mut problems = Vec::new();
        for (index, control) in self.controls.iter().enumerate() {
            if control.label.trim().is_empty() {
                problems.push(DesignError::ControlWithoutLabel { position: index + 1 });
            }
            if control.plots_per_replicate == 0 {
                problems.push(DesignError::ControlWithoutPlots { label: control.label.clone() });
            }
        }
        problems
    }

    fn treatments_that_share_a_label(&self) -> Vec<DesignError> {
        let mut seen = HashSet::new();
        let labels = self.treatments().into_iter().map(|treatment| treatment.label);
        let repeated = labels.filter(|label| !seen.insert(as_told_apart(label)));
        repeated.map(|label| DesignError::TreatmentTwice { label }).collect()
    }

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

/// The part of a name that people tell apart when they read it off a sign: capitals and outer spaces do not count.
pub(crate) fn as_told_apart(name: &str) -> String {
    name.trim().to_lowercase()
}
