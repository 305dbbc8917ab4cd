//! `guardrow serve`

use std::sync::Arc;

use guardrow_station::{ErrorKind, Station, StationError};
use guardrow_web::{ServeError, ServeOptions, Serving};

use crate::arguments::StationFolder;

/// Port that is tried when none is named.
pub(crate) const USUAL_PORT: u16 = 4715;

/// Open a station in the browser; it listens on this machine only
#[derive(Debug, clap::Args)]
pub(crate) struct Serve {
    #[command(flatten)]
    at: StationFolder,
    /// Port to listen on; 0 for any that is free
    #[arg(long, value_name = "PORT", default_value_t = USUAL_PORT)]
    port: u16,
    /// Open the browser too
    #[arg(long)]
    open: bool,
}

pub(crate) fn run(serve: &Serve) -> Result<String, StationError> {
    let station = Arc::new(super::open(&serve.at.station)?);
    let options = ServeOptions { port: serve.port, open_browser: serve.open };
    guardrow_web::serve(station, options, announce).map_err(|error| trouble(&error))?;
    Ok("The station is closed.\n".to_owned())
}

/// Serves on the usual port, or on any free one when that is taken; for somebody who named no port.
pub(crate) fn run_on_any_port(station: &Arc<Station>, open_browser: bool) -> Result<(), StationError> {
    let on = |port| guardrow_web::serve(Arc::clone(station), ServeOptions { port, open_browser }, announce);
    match on(USUAL_PORT) {
        Err(ServeError::PortTaken(_)) => on(0),
        ended => ended,
    }
    .map_err(|error| trouble(&error))
}

/// Says where the station is; the address is the answer, so it goes to standard output at once.
pub(crate) fn announce(serving: &Serving) {
    println!("The station is open at {} (this machine only).", serving.url);
    if serving.browser_opened {
        eprintln!("The browser was asked to show it. Stop with Ctrl-C.");
    } else {
        eprintln!("Open that address in a browser. Stop with Ctrl-C.");
    }
}

pub(crate) fn trouble(error: &ServeError) -> StationError {
    let kind = match error {
        ServeError::PortTaken(_) => ErrorKind::InUse,
        ServeError::Listen { .. } => ErrorKind::Refused,
        ServeError::System(_) => ErrorKind::Internal,
    };
    StationError::new(kind, error.to_string(), "", error.help())
}
