//! Repeated measures through the entry point that a trial uses: against nlme and dense REML, properties, bad input.

mod bad_input;
mod by_r;
#[path = "../correlated_errors/case.rs"]
#[allow(dead_code, reason = "the reader of cases serves several test programs")]
mod case;
mod properties;
mod trial;
