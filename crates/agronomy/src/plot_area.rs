//! The areas of a plot: gross, sown and harvested.

use serde::Serialize;

use crate::amount::{EndLength, PlotLength, PlotWidth, RowSpacing};
use crate::limits::{Field, Refused, Remark, check};
use crate::unit::Unit;

/// The measures of one plot on the ground.
///
/// Two lengths are kept apart by name: what is *sown*, and what is *harvested* after both ends are trimmed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlotShape {
    /// Crop rows sown.
    pub rows: u32,
    /// Distance between rows.
    pub row_spacing: RowSpacing,
    /// Length that is sown, from end to end.
    pub sown_length: PlotLength,
    /// Share of the alleys booked to the plot, both ends together; no yield is ever computed on it.
    pub alley_share: EndLength,
    /// Rows that are harvested.
    pub harvested_rows: u32,
    /// Cut away and discarded at the front.
    pub trim_front: EndLength,
    /// Cut away and discarded at the back.
    pub trim_back: EndLength,
}

/// The areas of one plot.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct PlotAreas {
    /// Width of all rows, m.
    pub width_m: f64,
    /// Width of the harvested rows, m.
    pub harvested_width_m: f64,
    /// Length that is harvested, m.
    pub harvested_length_m: f64,
    /// Ground booked to the plot, alley share included, m2: for land and cost per site.
    pub gross_m2: f64,
    /// Ground that is sown, m2: for seed.
    pub sown_m2: f64,
    /// Ground that is harvested, m2: for yield, always.
    pub harvested_m2: f64,
    /// What is doubtful.
    pub remarks: Vec<Remark>,
}

impl PlotShape {
    /// The plot's areas.
    ///
    /// Every width is `rows x row spacing`: half a row space belongs to each side of an outside row, for two harvested
    /// rows at 76 cm (1.52 m) as for eight at 19 cm.
    ///
    /// # Errors
    /// [`Refused`] without rows, with more rows harvested than sown, or when trimming leaves nothing.
    /// # Source
    /// Common practice, no source (handbook of plot arithmetic, 4.1).
    pub fn areas(&self) -> Result<PlotAreas, Refused> {
        if self.harvested_rows > self.rows {
            let rows = f64::from(self.harvested_rows);
            return Err(Refused::new("number of harvested rows", rows, Unit::Count, "at most the number of rows sown"));
        }
        let width = PlotWidth::of_rows(self.rows, self.row_spacing)?.in_metres();
        let harvested_width = PlotWidth::of_rows(self.harvested_rows, self.row_spacing)?.in_metres();
        let sown_length = self.sown_length.in_metres();
        let harvested_length = sown_length - self.trim_front.in_metres() - self.trim_back.in_metres();
        if harvested_length <= 0.0 {
            return Err(Refused::new(
                "harvested length",
                harvested_length,
                Unit::Metre,
                "above 0 after trimming both ends",
            ));
        }
        let sown_m2 = width * sown_length;
        let harvested_m2 = harvested_width * harvested_length;
        Ok(PlotAreas {
            width_m: width,
            harvested_width_m: harvested_width,
            harvested_length_m: harvested_length,
            gross_m2: width * (sown_length + self.alley_share.in_metres()),
            sown_m2,
            harvested_m2,
            remarks: self.remarks(harvested_m2, sown_m2),
        })
    }

    fn remarks(&self, harvested_m2: f64, sown_m2: f64) -> Vec<Remark> {
        let mut remarks = check(Field::Rows, f64::from(self.rows));
        remarks.extend(self.row_spacing.remarks());
        remarks.extend(self.sown_length.remarks());
        remarks.extend(check(Field::YieldArea, harvested_m2));
        // A hair of room, so that 2 of 4 rows over 16 of 20 ft is the 0.4 that it is.
        if harvested_m2 / sown_m2 < 0.4 - 1e-9 {
            let sentence = "Less than 40 % of the sown area is harvested.";
            remarks.push(Remark::note(sentence, "Check the trim and the number of border rows."));
        }
        remarks
    }
}

/// Length to sow so that a length remains to be harvested: harvested length, both trims, and the seeder's overrun.
///
/// A cone seeder spreads a packet over the distance that its cone is geared to; that distance, where it is known,
/// replaces this.
#[must_use]
pub fn sown_length_m(harvested: PlotLength, trim_start: EndLength, trim_end: EndLength, overrun: EndLength) -> f64 {
    harvested.in_metres() + trim_start.in_metres() + trim_end.in_metres() + overrun.in_metres()
}
