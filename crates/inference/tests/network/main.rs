//! Networks of trials: against plain matrix algebra, and however they are written down.

mod invariance;
mod plain_algebra;
mod trials;
