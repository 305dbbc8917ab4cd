//! Stands from counts: rows, quadrats, hoops.

use serde::Serialize;

use crate::amount::{GroundArea, PlotLength, RowSpacing, amount};
use crate::limits::{Refused, Remark};
use crate::rounding::shown;
use crate::seed::{ACRE_M2, Germination, SeedingRate, TargetStand};
use crate::unit::Unit;

amount! {
    /// A counted stand, plants per m2.
    Stand, CountedStand, plants_per_m2, in_plants_per_m2, "plants per square metre"
}

/// Plants counted along one stretch of row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowCount {
    /// Plants counted.
    pub plants: u32,
    /// Length of the stretch.
    pub length: PlotLength,
}

impl Stand {
    /// From counts along rows: `sum of plants / (sum of lengths x row spacing)`.
    ///
    /// # Errors
    /// [`Refused`] without a count.
    /// # Source
    /// Handbook of plot arithmetic, 3.1.
    pub fn of_rows(counts: &[RowCount], spacing: RowSpacing) -> Result<Self, Refused> {
        some_counts(counts.len())?;
        let plants: f64 = counts.iter().map(|count| f64::from(count.plants)).sum();
        let length: f64 = counts.iter().map(|count| count.length.in_metres()).sum();
        Self::plants_per_m2(plants / (length * spacing.in_metres()))
    }

    /// From counts in quadrats of one size: `mean count / area`.
    ///
    /// # Errors
    /// [`Refused`] without a count.
    /// # Source
    /// Handbook of plot arithmetic, 3.3.
    pub fn of_quadrats(counts: &[u32], area: GroundArea) -> Result<Self, Refused> {
        some_counts(counts.len())?;
        Self::plants_per_m2(mean(counts) / area.in_square_metres())
    }

    /// From counts in a hoop: `mean count / (pi d2 / 4)`.
    ///
    /// - `diameter`: inside the hoop
    /// # Errors
    /// [`Refused`] without a count.
    /// # Source
    /// Handbook of plot arithmetic, 3.3. [`hoop_remarks`] says when a hoop is too small for the rows.
    pub fn of_hoops(counts: &[u32], diameter: PlotLength) -> Result<Self, Refused> {
        some_counts(counts.len())?;
        Self::plants_per_m2(mean(counts) / hoop_area_m2(diameter))
    }

    /// Plants per acre.
    #[must_use]
    pub fn in_plants_per_ac(self) -> f64 {
        self.in_plants_per_m2() * ACRE_M2
    }

    /// Emergence as a share of all seeds sown, %.
    #[must_use]
    pub fn emergence(self, sown: SeedingRate) -> StandShare {
        StandShare::of(self.in_plants_per_m2() / sown.in_seeds_per_m2() * 100.0)
    }

    /// Emergence as a share of the viable seeds sown, %.
    #[must_use]
    pub fn emergence_of_viable(self, sown: SeedingRate, germination: Germination) -> StandShare {
        let viable = sown.in_seeds_per_m2() * germination.in_percent() / 100.0;
        StandShare::of(self.in_plants_per_m2() / viable * 100.0)
    }

    /// Counted stand as a share of the target, %.
    #[must_use]
    pub fn achieved(self, target: TargetStand) -> StandShare {
        // More plants than aimed at is common and no counting error, so it gets no remark.
        StandShare { percent: self.in_plants_per_m2() / target.in_plants_per_m2() * 100.0, remarks: Vec::new() }
    }
}

/// A stand as a share of what was sown or aimed at.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct StandShare {
    /// The share, %; shown as a whole percentage.
    pub percent: f64,
    /// What is doubtful: more plants than seeds.
    pub remarks: Vec<Remark>,
}

impl StandShare {
    fn of(percent: f64) -> Self {
        // A hair of room: the same number computed two ways is no surplus of plants.
        let remarks = if percent > 100.0 + 1e-9 { vec![surplus_remark(percent)] } else { Vec::new() };
        Self { percent, remarks }
    }
}

fn surplus_remark(percent: f64) -> Remark {
    let sentence = format!("{} % of the seeds came up, more than were sown.", shown(percent, 0));
    let help = "Check the count, the row spacing and the rate; look for volunteer plants and double-dropped seed. The value is kept.";
    Remark::warn(sentence, help)
}

/// Length of row that is a thousandth of an acre, ft: `43.56 / row spacing in ft`. A count along it x 1000 is
/// plants/ac.
///
/// # Source
/// North Dakota State University Extension, estimating soybean yields.
#[must_use]
pub fn thousandth_acre_row_ft(spacing: RowSpacing) -> f64 {
    43.56 / (spacing.in_metres() / 0.3048)
}

/// Plants per acre that one plant in a hoop stands for: `43 560 / (pi x (d in inches / 24)^2)`.
///
/// # Source
/// Published factors (Purdue field guide) are about 0.05 % above this exact value throughout; see the tests.
#[must_use]
pub fn hoop_factor_per_ac(diameter: PlotLength) -> f64 {
    ACRE_M2 / hoop_area_m2(diameter)
}

/// What is doubtful about a hoop in these rows: one narrower than two row spaces depends on where it lands.
#[must_use]
pub fn hoop_remarks(diameter: PlotLength, spacing: RowSpacing, throws: usize) -> Vec<Remark> {
    let mut remarks = Vec::new();
    if diameter.in_metres() < 2.0 * spacing.in_metres() {
        let sentence = "The hoop is narrower than two row spaces: its count depends on where it lands.";
        remarks.push(Remark::warn(sentence, "Count along a measured length of row instead."));
    }
    if throws < 5 {
        remarks.push(Remark::note(format!("The hoop was thrown {throws} time(s)."), "Throw it at least five times."));
    }
    remarks
}

fn hoop_area_m2(diameter: PlotLength) -> f64 {
    std::f64::consts::PI * diameter.in_metres().powi(2) / 4.0
}

fn mean(counts: &[u32]) -> f64 {
    counts.iter().map(|&count| f64::from(count)).sum::<f64>() / counts.len() as f64
}

fn some_counts(number: usize) -> Result<(), Refused> {
    if number == 0 { Err(Refused::new("number of counts", 0.0, Unit::Count, "at least 1")) } else { Ok(()) }
}
