//! The command line as a person or a script meets it.

mod analysing;
mod bad_input;
mod documented;
mod help;
mod stations;
mod terminal;
