//! Tarrow Moor: an invented station, with trials that go the whole way from a question to a printed report.
//!
//! Nothing here was observed. Every value comes from one seeded generator with known true effects ([`truth`]), and
//! everything that is made from it says that it is invented. The people, the place and the lots do not exist.

mod clock;
mod draws;
mod faba_bean;
mod flax;
mod oat;
mod outcome;
mod paper;
mod seed_lots;
mod table;
pub mod truth;
mod walk;

use std::path::Path;

use guardrow_design::Seed;
use guardrow_station::{Station, StationError};

pub use outcome::{FindingLine, Step, Summary, TrialOutcome};
pub use paper::Papers;

/// Name of the station.
pub const NAME: &str = "Tarrow Moor (invented)";

/// Who marked the data as invented.
pub const MAKER: &str = "demo";

/// How many trials a finished station has.
pub const TRIALS: usize = 3;

/// How many steps [`build`] tells of when everything is printed.
pub const STEPS: usize = 68;

/// The number from which every invented value is drawn.
const SEED: u64 = 2_025_315;

/// Makes the invented station in an empty or new folder, by the same use cases that a person's clicks call.
///
/// - `progress` is told each step as it is done
///
/// The same version makes the same data every time; only identities of records differ.
///
/// # Errors
/// When the folder holds something else or cannot be written.
pub fn build(folder: &Path, progress: &mut dyn FnMut(Step)) -> Result<Summary, StationError> {
    build_with(folder, Papers::All, progress)
}

/// Makes the invented station with all papers or only those that lock a layout.
///
/// # Errors
/// As for [`build`].
pub fn build_with(folder: &Path, papers: Papers, progress: &mut dyn FnMut(Step)) -> Result<Summary, StationError> {
    clock::set("2025-01-13T09:00:00Z");
    let station = Station::create(folder, NAME, clock::now)?;
    station.mark_invented(MAKER)?;
    progress(Step { trial: String::new(), what: format!("the station {NAME} is set up and marked as invented") });
    let seed = Seed::from_number(SEED);
    let trials = vec![
        faba_bean::run(&station, &seed, papers, progress)?,
        oat::run(&station, &seed, papers, progress)?,
        flax::run(&station, papers, progress)?,
    ];
    Ok(Summary { name: NAME.to_owned(), folder: station.folder().to_owned(), trials })
}
