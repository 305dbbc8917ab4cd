//! The use cases, from outside the crate.

mod hollow_fen;
mod past_states;
mod r_script;
mod whole_way;
