//! Published and certified cases through `analyse`, at the tolerances of `tests/reference/PROVENANCE.md`.
//!
//! Where each case comes from and which software made its golden values stands in its `expected.json` and in
//! `tests/reference/PROVENANCE.md`.

mod case;
mod compare;
mod completely_random;
mod covariates;
mod environments;
mod incomplete_blocks;
mod latin_square_and_strips;
mod looking;
mod missing_plots;
mod randomised_blocks;
mod season;
mod split_plots;
