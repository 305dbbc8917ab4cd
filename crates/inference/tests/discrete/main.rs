//! Counts, shares and scores of whole trials through `analyse_discrete`.

mod bad_input;
mod coverage;
mod rules;
mod trial;
