//! The HTTP server of a station: the JSON interface and the browser program's files, for this machine only.
//!
//! Every handler reads a request, calls one function of [`guardrow_station::Station`] on a thread that may wait for the
//! disk, and writes the answer. There is no statistics, no store and no rule of the trade in this crate.

mod answer;
mod browser;
mod fault;
mod gate;
mod layouts;
mod observations;
mod openapi;
mod pages;
mod publications;
mod reading;
mod router;
mod serve;
mod stations;
mod supplies;
mod trials;

pub use fault::{ErrorAnswer, Fault, FaultKind};
pub use openapi::document;
pub use router::{JSON_LIMIT_BYTES, UPLOAD_LIMIT_BYTES, router, router_on_port};
pub use serve::{ServeError, ServeOptions, Serving, serve};
