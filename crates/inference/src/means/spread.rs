//! Smallest, mean and largest of a table's errors.

use serde::{Deserialize, Serialize};

/// Smallest, mean and largest over all differences of a table.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Spread {
    /// Smallest.
    pub min: f64,
    /// Mean.
    pub mean: f64,
    /// Largest.
    pub max: f64,
}

/// Least significant differences at a level.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Lsd {
    /// Two-sided level.
    pub level: f64,
    /// Smallest.
    pub min: f64,
    /// Mean.
    pub mean: f64,
    /// Largest.
    pub max: f64,
}

impl Spread {
    /// Of these values; all zero when there are none.
    pub(crate) fn of(values: impl Iterator<Item = f64>) -> Self {
        let start = (f64::INFINITY, 0.0, f64::NEG_INFINITY, 0_usize);
        let (min, sum, max, count) =
            values.fold(start, |(min, sum, max, n), it| (min.min(it), sum + it, max.max(it), n + 1));
        if count == 0 { Self::default() } else { Self { min, mean: sum / count as f64, max } }
    }
}

impl Lsd {
    /// Of half the widths of intervals at this level.
    pub(crate) fn of(level: f64, half_widths: impl Iterator<Item = f64>) -> Self {
        let Spread { min, mean, max } = Spread::of(half_widths);
        Self { level, min, mean, max }
    }
}
