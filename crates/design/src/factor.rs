//! A factor and its levels.

use crate::DesignError;
use crate::treatment::as_told_apart;
use serde::{Deserialize, Serialize};
use std::collections::HashSet;

/// Something that is varied on purpose, with the levels it is set to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Factor {
    /// Name as the trial uses it, unique in the trial.
    pub name: String,
    /// Whether the levels are names or amounts.
    #[serde(default)]
    pub scale: Scale,
    /// At least two levels, in the order that tables use.
    pub levels: Vec<Level>,
}

/// Whether a factor's levels are names or amounts of something.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Scale {
    /// Names without order of size (varieties, products).
    #[default]
    Qualitative,
    /// Amounts on one scale (rates, dates as day numbers, spacings).
    Quantitative {
        /// Unit of every level's amount, as in the unit table.
        unit: String,
    },
}

/// One level of a factor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Level {
    /// Short name for tables, maps and signs, unique in its factor.
    pub label: String,
    /// Amount in the factor's unit; present exactly when the factor is quantitative.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amount: Option<f64>,
}

impl Factor {
    /// A factor whose levels are names.
    pub fn qualitative(name: &str, labels: &[&str]) -> Self {
        let levels = labels.iter().map(|label| Level { label: (*label).to_owned(), amount: None }).collect();
        Self { name: name.to_owned(), scale: Scale::Qualitative, levels }
    }

    /// A factor whose levels are amounts in `unit`; each is labelled with its number.
    pub fn quantitative(name: &str, unit: &str, amounts: &[f64]) -> Self {
        let levels = amounts.iter().map(|&amount| Level { label: amount.to_string(), amount: Some(amount) }).collect();
        Self { name: name.to_owned(), scale: Scale::Quantitative { unit: unit.to_owned() }, levels }
    }

    /// What is wrong with the levels of this factor.
    pub(crate) fn problems(&self) -> Vec<DesignError> {
        let mut problems = Vec::new();
        if self.levels.len() < 2 {
            problems.push(DesignError::TooFewLevels { factor: self.name.clone(), levels: self.levels.len() });
        }
        problems.extend(self.label_problems());
        match &self.scale {
            Scale::Qualitative => problems.extend(self.amounts_on_names()),
            Scale::Quantitative { unit } => problems.extend(self.amount_problems(unit)),
        }
        problems
    }

    fn label_problems(&self) -> Vec<DesignError> {
        let mut seen = HashSet::new();
        let mut problems = Vec::new();
        for (index, level) in self.levels.iter().enumerate() {
            if level.label.trim().is_empty() {
                problems.push(DesignError::LevelWithoutLabel { factor: self.name.clone(), position: index + 1 });
            } else if !seen.insert(as_told_apart(&level.label)) {
                problems.push(DesignError::LevelTwice { factor: self.name.clone(), label: level.label.clone() });
            }
        }
        problems
    }

    fn amounts_on_names(&self) -> Vec<DesignError> {
        let on_name = |level: &Level| {
            let (factor, label) = (self.name.clone(), level.label.clone());
            level.amount.map(|amount| DesignError::AmountOnName { factor, label, amount })
        };
        self.levels.iter().filter_map(on_name).collect()
    }

    fn amount_problems(&self, unit: &str) -> Vec<DesignError> {
        let mut problems = Vec::new();
        if unit.trim().is_empty() {
            problems.push(DesignError::UnitMissing { factor: self.name.clone() });
        }
        for (index, level) in self.levels.iter().enumerate() {
            let (factor, label) = (self.name.clone(), level.label.clone());
            match level.amount {
                None => problems.push(DesignError::AmountMissing { factor, label, unit: unit.to_owned() }),
                Some(amount) if !amount.is_finite() => {
                    problems.push(DesignError::AmountNotFinite { factor, label, amount });
                }
                Some(amount) => problems.extend(self.same_amount_before(index, amount, unit)),
            }
        }
        problems
    }

    fn same_amount_before(&self, index: usize, amount: f64, unit: &str) -> Option<DesignError> {
        let first = self.levels[..index].iter().find(|level| level.amount == Some(amount))?;
        Some(DesignError::AmountTwice {
            factor: self.name.clone(),
            first: first.label.clone(),
            second: self.levels[index].label.clone(),
            amount,
            unit: unit.to_owned(),
        })
    }
}
