//! Tests of the store through its public functions: can data get lost, and does it come back as it was told?

mod invented;
mod journal;
mod versions;
