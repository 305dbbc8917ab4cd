//! The level of tests, and the intervals that follow from it.

use serde::{Deserialize, Serialize};

/// The risk that tests run: 5 % unless the station screens at 10 or 20 %.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TestLevel {
    /// 95 % intervals of differences, 90 % intervals for equivalence.
    #[default]
    FivePercent,
    /// 90 % and 80 %, for screening.
    TenPercent,
    /// 80 % and 60 %, for screening.
    TwentyPercent,
}

impl TestLevel {
    /// The risk as a share: 0.05, 0.10 or 0.20.
    pub fn alpha(self) -> f64 {
        match self {
            TestLevel::FivePercent => 0.05,
            TestLevel::TenPercent => 0.10,
            TestLevel::TwentyPercent => 0.20,
        }
    }
}
