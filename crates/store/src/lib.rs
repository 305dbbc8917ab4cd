//! The embedded database of a Guardrow station.
//!
//! A station is a folder with one database, `station.db`. The store keeps what persons decided or observed,
//! append-only, and gives back any past state. It knows no statistics and no trade rules, reads no clock (the
//! caller hands in every [`Moment`]) and is called by the `station` crate only.
//!
//! Writes go through one connection, each in a transaction of its own or several in [`Store::write`]; reads go
//! through a small pool beside it. A [`Store`] can be shared between threads.

mod backup;
mod column;
mod connection;
mod entry;
mod error;
mod folder;
mod history;
mod intake;
mod journal;
mod layout;
mod lot;
mod moment;
mod plan;
mod publication;
mod reading;
mod schema;
mod sha256;
mod station_info;
mod store;
mod trial;
mod version;
mod writing;

pub use backup::Backup;
pub use entry::{Entry, EntryKind, NewEntry, Observed, Source, SourceKind, Status};
pub use error::{EntryPlace, StoreError};
pub use folder::StationFolder;
pub use history::EntryFilter;
pub use intake::{Intake, NewIntake};
pub use layout::{Layout, LayoutLock, NewLayout, Plot};
pub use lot::{Lot, LotVersion, NewLot};
pub use moment::{Moment, new_id};
pub use plan::Plan;
pub use publication::{NewPublication, Publication};
pub use reading::Reading;
pub use schema::{APPLICATION_ID, SCHEMA_VERSION};
pub use sha256::{Sha256, Sha256Error};
pub use station_info::Info;
pub use store::Store;
pub use trial::{NewTrial, Trial};
pub use uuid::Uuid;
pub use version::NewVersion;
pub use writing::Writing;
