//! Trend over the field through the entry point that a trial uses: published fields, properties, bad input.

mod bad_input;
#[path = "../correlated_errors/case.rs"]
#[allow(dead_code, reason = "the reader of cases serves several test programs")]
mod case;
mod properties;
mod published;
mod trial;
