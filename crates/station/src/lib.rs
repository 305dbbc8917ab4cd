//! The use cases: everything that a person can do with a station, one function each.
//!
//! The only caller of `store`. Both shells (`cli`, `web`) call these functions and nothing below them.

mod analysed;
mod beside;
mod bring_in;
mod choices;
mod counted;
mod documents;
mod dossier;
mod error;
mod experiment;
mod harvest;
mod intake;
mod keeping;
mod layouts;
mod lot;
mod lots;
mod observation;
mod observations;
mod packets;
mod paper;
mod paying;
mod plan;
mod plan_check;
mod plan_file;
mod r_script;
mod report;
mod requests;
mod season;
mod spelling;
mod station;
mod store_error;
mod trials;
mod value;
mod value_kind;
mod views;

pub use choices::{CropLine, UnitLine, crops, units};
pub use error::{ErrorKind, StationError};
pub use guardrow_publish::report::Report;
pub use lot::Lot;
pub use plan::*;
pub use plan_check::check_plan;
pub use plan_file::{read_plan_file, write_plan_file};
pub use r_script::{RScript, r_script_of_file};
pub use report::{CurvesOver, Further, MeasureAnalysis, ReportInFull, TrendAt, analyse_file, analyse_file_in_full};
pub use requests::*;
pub use station::{Clock, Station};
pub use value_kind::{ValueKind, Whole};
pub use views::*;
