//! Response curves: published cases, golden values from R, properties, coverage of intervals.

mod bands;
mod by_r;
mod coverage;
mod golden;
mod maize;
mod nist;
mod properties;
mod refusals;
mod trends;
mod trial;
