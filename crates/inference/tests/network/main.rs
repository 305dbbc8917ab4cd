//! Networks of trials: against plain matrix algebra and R, however they are written down, and against bad input.

mod any_layout;
mod bad_input;
mod by_r;
mod invariance;
mod plain_algebra;
mod trials;
