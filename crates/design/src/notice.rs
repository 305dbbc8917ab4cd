//! Something a person should know that does not stop the work.

use serde::{Deserialize, Serialize};

/// A remark on a plan, with the sentence that people read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Notice {
    /// What it is about, for programs.
    pub topic: NoticeTopic,
    /// What people read.
    pub sentence: String,
}

/// What a notice is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum NoticeTopic {
    /// Error degrees of freedom are fewer than 12.
    FewErrorDf,
    /// No error degrees of freedom at all.
    NoErrorDf,
    /// Under two fifths of each plot will be harvested.
    LittleHarvested,
}
