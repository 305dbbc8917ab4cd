//! Networks of trials, checked against plain matrix algebra.

mod plain_algebra;
mod trials;
