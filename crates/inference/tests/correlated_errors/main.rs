//! Correlated errors against published trials, dense REML in R, nlme, and lme4's mixed model.

mod case;
mod field;
