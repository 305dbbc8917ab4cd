//! What is asked of response curves.

use super::form::Form;
use crate::InferenceError;
use serde::{Deserialize, Serialize};

/// What is asked of response curves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default)]
pub struct CurveOptions {
    /// The forms to be fitted.
    pub forms: Vec<Form>,
    /// Whether a high or a low response is wanted.
    pub aim: Aim,
    /// Cost of one unit of the amount over the price of one unit of the response: how much response a unit must bring.
    pub price_ratio: Option<f64>,
    /// An amount (the usual one) with which the best is compared.
    pub compare_with: Option<f64>,
    /// Steps in which the course of each curve is worked out for drawing; 0 for none.
    pub drawn_in: usize,
    /// Two-sided level of tests and intervals; between 0 and 0.5.
    pub level: f64,
}

/// More steps than a drawing could show.
const MOST_STEPS: usize = 1000;

/// What is wanted of the response.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Aim {
    /// As much as possible, as of yield.
    #[default]
    High,
    /// As little as possible, as of disease.
    Low,
}

impl Default for CurveOptions {
    fn default() -> Self {
        Self {
            forms: Form::ALL.to_vec(),
            aim: Aim::High,
            price_ratio: None,
            compare_with: None,
            drawn_in: 0,
            level: 0.05,
        }
    }
}

impl CurveOptions {
    pub(super) fn check(&self) -> Result<(), InferenceError> {
        let setting = |what: &str, value: f64, expected: &str| {
            Err(InferenceError::Setting { what: what.to_owned(), value, expected: expected.to_owned() })
        };
        if !(self.level > 0.0 && self.level < 0.5) {
            return setting("the level", self.level, "above 0 and below 0.5");
        }
        if let Some(ratio) = self.price_ratio.filter(|ratio| !(ratio.is_finite() && *ratio >= 0.0)) {
            return setting("the price ratio", ratio, "zero or a positive number");
        }
        if let Some(amount) = self.compare_with.filter(|amount| !amount.is_finite()) {
            return setting("the amount to compare with", amount, "a number");
        }
        if self.drawn_in > MOST_STEPS {
            return setting("the steps of a drawing", self.drawn_in as f64, "at most 1000");
        }
        for form in &self.forms {
            if let Form::BrokenLineAt { join } = form
                && !join.is_finite()
            {
                return setting("the given join", *join, "a number");
            }
        }
        Ok(())
    }

    pub(super) fn sign(&self) -> f64 {
        if self.aim == Aim::High { 1.0 } else { -1.0 }
    }
}
