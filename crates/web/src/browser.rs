//! Opens the person's browser.

use std::process::{Command, Stdio};

/// Opens an address in the person's browser; false when there is none to be started.
pub fn open(address: &str) -> bool {
    let (program, before): (&str, &[&str]) = if cfg!(target_os = "windows") {
        ("rundll32", &["url.dll,FileProtocolHandler"])
    } else if cfg!(target_os = "macos") {
        ("open", &[])
    } else {
        ("xdg-open", &[])
    };
    let started = Command::new(program)
        .args(before)
        .arg(address)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn();
    match started {
        Ok(mut child) => {
            // Waited for on a thread of its own, so that no dead process is left behind.
            std::thread::spawn(move || child.wait());
            true
        }
        Err(error) => {
            tracing::info!(%error, program, "no browser was opened");
            false
        }
    }
}
