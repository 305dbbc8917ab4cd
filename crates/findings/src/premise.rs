//! Whether the condition that a question needs came about.

use serde::{Deserialize, Serialize};

/// What is known of the premise of a question.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PremiseStatus {
    /// The condition was there: the question was put to the test.
    Occurred,
    /// The condition was not there: the question was never tested.
    DidNotOccur,
    /// Within the sensor's error of the threshold, too few readings, or not judged yet.
    CannotTell,
    /// The question holds under any condition.
    NoneNeeded,
}
