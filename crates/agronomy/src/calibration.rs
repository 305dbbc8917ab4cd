//! Calibrating a drill or planter by a catch test.

use crate::amount::RowSpacing;
use crate::limits::{Field, Refused, Remark, accept};
use crate::rounding::shown;
use crate::seed::SeedingRate;
use crate::unit::Unit;

/// A stretch over which the seed of some rows is caught.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CatchTest {
    /// Rows caught.
    pub rows: u32,
    /// Distance between rows.
    pub row_spacing: RowSpacing,
    /// Distance driven, or turned by the wheel, m.
    pub distance_m: f64,
}

impl CatchTest {
    /// Area that the caught rows stand for: `rows x spacing x distance`, m2.
    ///
    /// # Errors
    /// [`Refused`] without rows or distance.
    pub fn area_m2(&self) -> Result<f64, Refused> {
        let rows = accept(Field::Rows, f64::from(self.rows))?;
        Ok(rows * self.row_spacing.in_metres() * distance(self.distance_m)?)
    }

    /// Rate from the grams caught: `grams / area x 10`, kg/ha.
    ///
    /// # Errors
    /// [`Refused`] when nothing was caught.
    /// # Source
    /// Handbook of plot arithmetic, 2.7 (Carter, grain drill calibration; Southeast Farm Press).
    pub fn rate_kg_ha(&self, grams_caught: f64) -> Result<f64, Refused> {
        if !(grams_caught.is_finite() && grams_caught > 0.0) {
            return Err(Refused::new("seed caught", grams_caught, Unit::Gram, "above 0"));
        }
        Ok(grams_caught / self.area_m2()? * 10.0)
    }

    /// Grams to catch for a rate: `kg/ha x area / 10`.
    ///
    /// # Errors
    /// [`Refused`] for a negative rate.
    pub fn grams_for(&self, kg_ha: f64) -> Result<f64, Refused> {
        Ok(accept(Field::Rate, kg_ha)? * self.area_m2()? / 10.0)
    }

    /// What is doubtful: a short distance, or rows that differ by more than 5 % from their mean.
    ///
    /// - `grams_per_row`: caught from each row
    #[must_use]
    pub fn remarks(&self, grams_per_row: &[f64]) -> Vec<Remark> {
        let mut remarks = Vec::new();
        if self.distance_m < 15.0 {
            let sentence = format!("The test covered only {} m.", shown(self.distance_m, 1));
            remarks.push(Remark::warn(sentence, "Catch over at least 15 m."));
        }
        let mean = grams_per_row.iter().sum::<f64>() / grams_per_row.len().max(1) as f64;
        if let Some(row) = grams_per_row.iter().position(|grams| (grams - mean).abs() > 0.05 * mean) {
            let sentence = format!("Row {} caught more than 5 % off the mean of the rows.", row + 1);
            remarks.push(Remark::warn(sentence, "Look for a blocked or worn metering unit and catch again."));
        }
        remarks
    }
}

/// Distance of a number of wheel turns: `turns x circumference`, m; the circumference is measured loaded, in the soil.
///
/// # Errors
/// [`Refused`] when either is not above zero.
pub fn wheel_distance_m(turns: f64, circumference_m: f64) -> Result<f64, Refused> {
    distance(turns * circumference_m)
}

/// Setting for a target, where the meter is roughly linear: `old setting x target / measured`. Catch again afterwards.
///
/// # Errors
/// [`Refused`] when the measured rate is not above zero.
pub fn new_setting(old_setting: f64, target_rate: f64, measured_rate: f64) -> Result<f64, Refused> {
    if !(measured_rate.is_finite() && measured_rate > 0.0) {
        return Err(Refused::new("measured rate", measured_rate, Unit::KgPerHa, "above 0"));
    }
    Ok(old_setting * accept(Field::Rate, target_rate)? / measured_rate)
}

/// Seeds that one wheel turn must drop in one row: `seeds/m2 x row spacing x circumference`.
///
/// # Errors
/// [`Refused`] when the circumference is not above zero.
pub fn seeds_per_turn(rate: SeedingRate, spacing: RowSpacing, circumference_m: f64) -> Result<f64, Refused> {
    Ok(rate.seeds_per_metre_of_row(spacing) * distance(circumference_m)?)
}

fn distance(metres: f64) -> Result<f64, Refused> {
    if metres.is_finite() && metres > 0.0 {
        Ok(metres)
    } else {
        Err(Refused::new("distance", metres, Unit::Metre, "above 0"))
    }
}
