//! Counts and proportions through `generalised::fit`: golden values, published cases, rules that hold for all data, bad input.

mod bad_input;
mod golden;
mod properties;
mod published;
mod restricted;
mod scores;
mod table;
