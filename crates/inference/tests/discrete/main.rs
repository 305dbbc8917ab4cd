//! Counts, shares and scores of whole trials through `analyse_discrete`.

mod coverage;
mod trial;
