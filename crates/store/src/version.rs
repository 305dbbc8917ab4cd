//! A new version of something that is kept in versions.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::Moment;

/// The next version of a plan or of a lot's papers, to be recorded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NewVersion {
    /// the whole of it
    pub body: Value,
    /// when it was recorded
    pub recorded_at: Moment,
    /// by whom
    pub by: String,
    /// why it was changed
    pub reason: Option<String>,
}
