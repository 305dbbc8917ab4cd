//! Analyses of transformed values, as a stated alternative beside the plain one.
//!
//! A logarithm, root or angle can make treatments add and plots vary alike where they do not. Tests then are those of the
//! transformed values; means are told transformed back, where they are typical plots (medians, if the transformed values are
//! normal) and not averages.

mod back;

use crate::{Analysis, Experiment, InferenceError, Options, analyse};
use serde::{Deserialize, Serialize};

pub use back::{BackCell, BackTable};

/// What is done to every value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TransformKind {
    /// The natural logarithm: where effects multiply and the spread grows with the mean.
    Logarithm,
    /// The square root: for small counts.
    SquareRoot,
    /// The angle whose sine is the root of the share, in radians: for shares in percent.
    Angular,
}

/// A transformation of values.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Transform {
    /// What is done.
    pub by: TransformKind,
    /// What is added to every value first, such as 1 where counts of zero occur; zero for the angle.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub added: f64,
}

fn is_zero(added: &f64) -> bool {
    *added == 0.0
}

/// The analysis of transformed values.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct TransformedAnalysis {
    /// What was done to the values.
    pub transform: Transform,
    /// The analysis of the transformed values.
    pub analysis: Analysis,
    /// Its means and their intervals transformed back, one table for each of the analysis.
    pub back: Vec<BackTable>,
}

/// Transforms the values and analyses them.
///
/// # Errors
/// [`InferenceError::CannotTransform`] with the first plot whose value is outside what the transformation takes; as [`analyse`].
/// # Source
/// Bartlett (1947), Biometrics 3:39-52 (from memory).
pub fn analyse_transformed(
    experiment: &Experiment,
    transform: Transform,
    options: &Options,
) -> Result<TransformedAnalysis, InferenceError> {
    transform.check()?;
    let one = |(plot, value): (usize, &Option<f64>)| value.map(|value| transform.of(value, plot)).transpose();
    let response = experiment.response.iter().enumerate().map(one).collect::<Result<_, _>>()?;
    let analysis = analyse(&Experiment { response, ..experiment.clone() }, options)?;
    let back = analysis.tables.iter().map(|table| back::table(table, transform)).collect();
    Ok(TransformedAnalysis { transform, analysis, back })
}

impl Transform {
    /// The transformation in words: `logarithm of the value plus 1`.
    pub fn words(&self) -> String {
        let what = match self.by {
            TransformKind::Logarithm => "logarithm of the value",
            TransformKind::SquareRoot => "square root of the value",
            TransformKind::Angular => "angle of the share",
        };
        if self.added == 0.0 { what.to_owned() } else { format!("{what} plus {}", self.added) }
    }

    fn check(&self) -> Result<(), InferenceError> {
        let allowed =
            self.added.is_finite() && self.added >= 0.0 && (self.by != TransformKind::Angular || is_zero(&self.added));
        if allowed {
            return Ok(());
        }
        let expected = "zero or more, and zero for the angle".to_owned();
        Err(InferenceError::Setting {
            what: "what is added before the transformation".into(),
            value: self.added,
            expected,
        })
    }

    fn of(&self, value: f64, plot: usize) -> Result<f64, InferenceError> {
        let shifted = value + self.added;
        let (is_allowed, needs) = match self.by {
            TransformKind::Logarithm => (shifted > 0.0, "above zero"),
            TransformKind::SquareRoot => (shifted >= 0.0, "zero or more"),
            TransformKind::Angular => ((0.0..=100.0).contains(&shifted), "from 0 to 100 percent"),
        };
        if !(is_allowed && value.is_finite()) {
            return Err(InferenceError::CannotTransform { plot, value, words: self.words(), needs: needs.to_owned() });
        }
        Ok(match self.by {
            TransformKind::Logarithm => shifted.ln(),
            TransformKind::SquareRoot => shifted.sqrt(),
            TransformKind::Angular => (shifted / 100.0).sqrt().asin(),
        })
    }

    /// The value that belongs to a transformed one; what lies outside the transformation's range is put at its end.
    fn back(&self, transformed: f64) -> f64 {
        let shifted = match self.by {
            TransformKind::Logarithm => transformed.exp(),
            TransformKind::SquareRoot => transformed.max(0.0).powi(2),
            TransformKind::Angular => 100.0 * transformed.clamp(0.0, std::f64::consts::FRAC_PI_2).sin().powi(2),
        };
        shifted - self.added
    }
}
