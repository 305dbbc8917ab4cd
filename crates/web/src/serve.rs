//! Listens on this machine until told to stop.

use std::future::Future;
use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;

use guardrow_station::Station;
use tokio::net::TcpListener;
use tokio::sync::oneshot;

use crate::router::router_on_port;

/// How long requests that are under way may go on after the person stops the server.
const PATIENCE: Duration = Duration::from_secs(10);

/// Threads for use cases: they wait for one writer, so that more of them would only wait longer.
const USE_CASE_THREADS: usize = 16;

/// How the server is started.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ServeOptions {
    /// Port to listen on; 0 for any that is free.
    pub port: u16,
    /// Whether the person's browser is opened.
    pub open_browser: bool,
}

/// What is told once the server listens.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Serving {
    /// The address that it listens on.
    pub address: SocketAddr,
    /// What to open in a browser.
    pub url: String,
    /// Whether a browser was opened.
    pub browser_opened: bool,
}

/// Why the server did not start or stopped.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The port is taken.
    #[error("port {0} on this machine is taken by another program")]
    PortTaken(u16),
    /// The port cannot be listened on.
    #[error("the server cannot listen on port {port}: {cause}")]
    Listen {
        /// The port asked for.
        port: u16,
        /// What the system says.
        cause: io::Error,
    },
    /// The system refused threads or sockets.
    #[error("the server stopped: {0}")]
    System(#[from] io::Error),
}

impl ServeError {
    /// What to try.
    pub fn help(&self) -> &'static str {
        match self {
            ServeError::PortTaken(_) => {
                "look whether the station is open in the browser already; otherwise choose another port, or 0 for a free one"
            }
            ServeError::Listen { .. } => "choose a port from 1024 upwards, or 0 for a free one",
            ServeError::System(_) => "close other programs and start the station again",
        }
    }
}

/// Serves a station on 127.0.0.1 until Ctrl-C (or, on Unix, a request to terminate); prints nothing.
///
/// `ready` is called once, when the server listens. Requests that are under way when the person stops it are finished,
/// for ten seconds at most; what a use case is writing is always finished.
///
/// # Errors
/// [`ServeError`] when the port is taken or cannot be listened on.
pub fn serve(station: Arc<Station>, options: ServeOptions, ready: impl FnOnce(&Serving)) -> Result<(), ServeError> {
    let runtime =
        tokio::runtime::Builder::new_multi_thread().enable_all().max_blocking_threads(USE_CASE_THREADS).build()?;
    runtime.block_on(serve_until(station, options, ready, stop_signal()))
}

async fn serve_until(
    station: Arc<Station>,
    options: ServeOptions,
    ready: impl FnOnce(&Serving),
    stop: impl Future<Output = ()> + Send + 'static,
) -> Result<(), ServeError> {
    let listener = listen(options.port).await?;
    let address = listener.local_addr()?;
    let url = format!("http://localhost:{}/", address.port());
    let browser_opened = options.open_browser && crate::browser::open(&url);
    ready(&Serving { address, url, browser_opened });

    let (stopping, stopped) = oneshot::channel();
    let stop = async move {
        stop.await;
        // The receiver is gone only when the server has ended already.
        let _ = stopping.send(());
    };
    let server = axum::serve(listener, router_on_port(station, address.port())).with_graceful_shutdown(stop);
    let out_of_patience = async move {
        if stopped.await.is_ok() {
            tokio::time::sleep(PATIENCE).await;
        } else {
            std::future::pending::<()>().await;
        }
    };
    tokio::select! {
        ended = server.into_future() => Ok(ended?),
        () = out_of_patience => Ok(()),
    }
}

async fn listen(port: u16) -> Result<TcpListener, ServeError> {
    TcpListener::bind((Ipv4Addr::LOCALHOST, port)).await.map_err(|cause| match cause.kind() {
        io::ErrorKind::AddrInUse => ServeError::PortTaken(port),
        _ => ServeError::Listen { port, cause },
    })
}

#[cfg(unix)]
async fn stop_signal() {
    use tokio::signal::unix::{SignalKind, signal};
    let terminate = async {
        match signal(SignalKind::terminate()) {
            Ok(mut terminate) => drop(terminate.recv().await),
            Err(_) => std::future::pending().await,
        }
    };
    tokio::select! {
        () = interrupt() => {}
        () = terminate => {}
    }
}

#[cfg(not(unix))]
async fn stop_signal() {
    interrupt().await;
}

async fn interrupt() {
    if let Err(error) = tokio::signal::ctrl_c().await {
        tracing::warn!(%error, "Ctrl-C cannot be listened for");
        std::future::pending::<()>().await;
    }
}
