//! What the covariance of the observations is made of.
//!
//! One rule makes every part: two observations of the same unit have the covariance `sd * sd * product over the axes`, with one
//! factor for each axis along which the unit has an order; observations of different units have none. Without axes a part is a
//! random effect of units; with each observation its own unit, a residual; with one axis, repeated measures or a trend along
//! the rows; with two, a trend over the field.

use serde::{Deserialize, Serialize};

/// Name of the independent error of each observation.
pub const RESIDUAL: &str = "residual";

/// One part of the covariance, over all observations.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Name for people.
    pub name: String,
    /// Which observations share it.
    pub unit: Unit,
    /// Along what it changes within a unit; none when it is the same for the whole unit.
    pub axes: Vec<Axis>,
    /// Groups of observations (sites, years, treatments) with a variance of their own each; none for one variance.
    pub groups: Option<Groups>,
}

/// Which observations share a part.
#[derive(Debug, Clone, PartialEq)]
pub enum Unit {
    /// Every observation has its own.
    Each,
    /// All have it together.
    All,
    /// For each observation the class it is in, any numbers.
    Classes(Vec<usize>),
}

/// Groups of observations.
#[derive(Debug, Clone, PartialEq)]
pub struct Groups {
    /// What they are called, in order.
    pub labels: Vec<String>,
    /// For each observation its group, as an index of `labels`.
    pub group: Vec<usize>,
}

/// An order of the observations.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// Name for people, such as `range`.
    pub name: String,
    /// For each observation where it stands, in one unit (plots, days).
    pub position: Vec<f64>,
    /// How the covariance changes with the position.
    pub shape: Shape,
}

/// How the covariance of two observations of one unit changes along an axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Shape {
    /// `rho ^ steps` over whole steps, `-1 < rho < 1`: first-order autoregression.
    Steps,
    /// `rho ^ distance` over any distance, `0 < rho < 1` for one unit of distance: exponential decay.
    Decay,
    /// Longest distance minus distance: what both of the above become when the correlation goes to one while the variance of a
    /// step stays. A walk whose steps are independent; the parameter is half the variance of the difference over one step.
    Straight,
    /// Cubic smoothing spline less its straight line, scaled to a mean of one over the positions; the line belongs to the fixed
    /// columns.
    Spline,
    /// Product of the two positions, centred and scaled to a mean of one: a straight line with a random slope.
    Line,
}

impl Part {
    /// An independent error of each observation.
    pub fn residual() -> Self {
        Self { name: RESIDUAL.into(), unit: Unit::Each, axes: Vec::new(), groups: None }
    }

    /// A random effect of each class.
    pub fn units(name: impl Into<String>, class: Vec<usize>) -> Self {
        Self { name: name.into(), unit: Unit::Classes(class), axes: Vec::new(), groups: None }
    }

    /// A part that changes along axes.
    pub fn along(name: impl Into<String>, unit: Unit, axes: Vec<Axis>) -> Self {
        Self { name: name.into(), unit, axes, groups: None }
    }

    /// The same with a variance for each group of observations.
    pub fn with_variances_by(self, groups: Groups) -> Self {
        Self { groups: Some(groups), ..self }
    }

    /// Whether two observations are of the same unit.
    pub(crate) fn joins(&self, one: usize, other: usize) -> bool {
        self.unit.class(one) == self.unit.class(other)
    }

    /// Whether it is an independent error.
    pub fn is_residual(&self) -> bool {
        self.unit == Unit::Each
    }
}

impl Unit {
    /// The class of an observation.
    pub(crate) fn class(&self, observation: usize) -> usize {
        match self {
            Self::Each => observation,
            Self::All => 0,
            Self::Classes(class) => class[observation],
        }
    }
}

impl Axis {
    /// An axis over whole steps (plots, equally spaced occasions) with first-order autoregression.
    pub fn steps(name: impl Into<String>, position: Vec<f64>) -> Self {
        Self { name: name.into(), position, shape: Shape::Steps }
    }

    /// An axis over any distances (days) with exponential decay.
    pub fn decay(name: impl Into<String>, position: Vec<f64>) -> Self {
        Self { name: name.into(), position, shape: Shape::Decay }
    }
}

impl Shape {
    /// Whether it has a correlation to estimate.
    pub fn is_correlation(self) -> bool {
        matches!(self, Self::Steps | Self::Decay)
    }
}
