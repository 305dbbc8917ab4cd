//! Correlated errors against published trials, dense REML in R, nlme with numerical derivatives, and lme4's mixed model.

mod case;
mod field;
mod repeated;
