//! Flax, just planned: laid out and its seed computed, nothing printed and nothing observed.

use guardrow_station::{Station, StationError};

use crate::walk::Walk;
use crate::{Papers, Step, TrialOutcome, seed_lots};

const PLAN: &str = include_str!("../plans/flax-rates.toml");

/// Takes the trial to its layout.
pub(crate) fn run(
    station: &Station,
    papers: Papers,
    progress: &mut dyn FnMut(Step),
) -> Result<TrialOutcome, StationError> {
    let mut walk = Walk::new(station, "flax-rates.toml", PLAN, papers, progress)?;
    walk.on("2026-01-12T08:30:00Z");
    walk.ask("Mirel")?;
    walk.on("2026-01-27T10:00:00Z");
    walk.plan("Mirel")?;
    walk.on("2026-02-02T09:15:00Z");
    walk.draw("Mirel", 295)?;
    walk.supply("Tavi", vec![seed_lots::flax()])?;
    walk.leave()
}
