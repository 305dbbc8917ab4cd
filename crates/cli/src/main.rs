//! `guardrow`: a station's trials from the command line, and the station in the browser.
//!
//! Each command is one file in `commands/`: it reads its arguments, calls one or two use cases of the station, and
//! returns what is to be printed. Results go to standard output, progress and trouble to standard error.

mod arguments;
mod commands;
mod exit;
mod given_file;
mod given_folder;
mod printed;
mod trouble;

use std::process::ExitCode;

use clap::Parser;
use tracing_subscriber::EnvFilter;

use crate::arguments::Arguments;

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    log_to_standard_error();
    let as_json = arguments.command.answers_in_json();
    match commands::run(arguments.command).and_then(|answer| printed::to_standard_output(&answer)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(trouble) => {
            trouble::tell(&trouble, as_json);
            ExitCode::from(exit::code(trouble.kind))
        }
    }
}

/// What the server logs goes to standard error; warnings only, unless `GUARDROW_LOG` asks for more (`info`, `debug`).
fn log_to_standard_error() {
    let asked = EnvFilter::try_from_env("GUARDROW_LOG").unwrap_or_else(|_| EnvFilter::new("warn"));
    tracing_subscriber::fmt().with_env_filter(asked).with_writer(std::io::stderr).with_ansi(false).init();
}
