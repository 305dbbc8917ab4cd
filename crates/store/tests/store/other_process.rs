//! Starts the running test once more in a process of its own, where it plays the other part.

use std::path::{Path, PathBuf};
use std::process::Command;

const FOLDER: &str = "GUARDROW_TEST_STATION_FOLDER";

/// The station that the other part works on; `None` in the test itself.
pub fn given_folder() -> Option<PathBuf> {
    std::env::var_os(FOLDER).map(PathBuf::from)
}

/// A command that runs only `test` (as `module::name`), with the station in `folder`, printing as it goes.
pub fn again(test: &str, folder: &Path) -> Command {
    of_program(&std::env::current_exe().unwrap(), test, folder)
}

/// The same with a copy of this program.
pub fn of_program(program: &Path, test: &str, folder: &Path) -> Command {
    let mut command = Command::new(program);
    command.args(["--exact", test, "--nocapture"]).env(FOLDER, folder);
    command
}
