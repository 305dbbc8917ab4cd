//! Tests of the store through its public functions: can data get lost, and does it come back as it was told?

mod append_only;
mod backup;
mod corrections;
mod damage;
mod disk_full;
mod invented;
mod journal;
mod killed;
mod migrations;
mod opening;
mod other_process;
mod past_states;
mod sharing;
mod versions;
