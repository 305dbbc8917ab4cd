//! Correlated errors against published trials, dense REML in R, nlme with numerical derivatives, and lme4's mixed model.

#[allow(dead_code, reason = "the reader of cases serves several test programs")]
mod case;
mod field;
mod repeated;
