//! The use cases, from outside the crate.

mod hollow_fen;
mod looking;
mod over_amounts;
mod past_states;
mod r_script;
mod whole_way;
