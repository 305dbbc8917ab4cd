//! From the mass and moisture of a plot to its yield.

use serde::Serialize;

use crate::amount::{GroundArea, PlotLength, PlotWidth, amount};
use crate::crop::{Bushel, Crop};
use crate::limits::{Field, Refused, Remark, accept, check_for_crop};
use crate::rounding::shown;
use crate::seed::LB_AC_KG_HA;
use crate::unit::{Quantity, Unit};

amount! {
    /// Grain moisture on a wet basis: water as a share of the wet mass, %. Trade and meters use this basis.
    Moisture, Moisture, percent, in_percent, "percent of the wet mass"
}

impl Moisture {
    /// From moisture on a dry basis, % of the dry mass: `100 D / (100 + D)`.
    ///
    /// # Errors
    /// [`Refused`] when negative or not finite.
    /// # Source
    /// University of Florida IFAS, AG442.
    pub fn dry_basis(percent: f64) -> Result<Self, Refused> {
        if percent.is_finite() && percent >= 0.0 {
            Self::percent(100.0 * percent / (100.0 + percent))
        } else {
            Err(Refused::new("moisture on a dry basis", percent, Unit::Percent, "0 or more"))
        }
    }

    /// Moisture on a dry basis, % of the dry mass: `100 M / (100 - M)`.
    #[must_use]
    pub fn in_dry_basis(self) -> f64 {
        100.0 * self.0 / (100.0 - self.0)
    }
}

amount! {
    /// Moisture at which a yield is quoted, % wet basis. It is stored with the result; yields at different ones are not
    /// compared.
    StandardMoisture, Moisture, percent, in_percent, "percent of the wet mass"
}

impl StandardMoisture {
    /// The crop's default, where one is on file.
    #[must_use]
    pub fn of_crop(crop: &Crop) -> Option<Self> {
        crop.standard_moisture_pct.as_ref().and_then(|percent| Self::percent(percent.value).ok())
    }
}

amount! {
    /// Mass of grain taken from a plot, tare removed, kg.
    PlotMass, PlotMass, kilograms, in_kilograms, "kilograms"
}

impl PlotMass {
    /// From grams.
    ///
    /// # Errors
    /// [`Refused`] when negative.
    pub fn grams(value: f64) -> Result<Self, Refused> {
        Self::kilograms(value / 1000.0)
    }

    /// The mass less dockage: `gross x (1 - dockage / 100)`.
    ///
    /// # Errors
    /// [`Refused`] for a dockage outside 0 to 100 %.
    /// # Source
    /// Canada Grain Regulations, C.R.C. c. 889: net weight is gross less dockage.
    pub fn net_of_dockage(self, dockage_pct: f64) -> Result<Self, Refused> {
        Ok(Self(self.0 * (1.0 - accept(Field::Dockage, dockage_pct)? / 100.0)))
    }

    /// The mass that the same dry matter has at a standard moisture: `mass x (100 - M) / (100 - S)`.
    ///
    /// Grain drier than the standard gains mass. Taking the water off and adding S % of the *dry* mass is a common
    /// mistake.
    /// # Source
    /// Mulvaney & Devkota (2020), University of Florida IFAS, SS-AGR-443.
    #[must_use]
    pub fn at_standard(self, moisture: Moisture, standard: StandardMoisture) -> Self {
        Self(self.0 * (100.0 - moisture.in_percent()) / (100.0 - standard.in_percent()))
    }
}

/// What was measured when a plot was harvested.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Harvest {
    /// Mass of grain, tare removed.
    pub mass: PlotMass,
    /// Moisture of that grain; none when it was not taken.
    pub moisture: Option<Moisture>,
    /// Length harvested, measured after trimming.
    pub length: PlotLength,
    /// Width harvested: harvested rows times row spacing.
    pub width: PlotWidth,
    /// Moisture at which the yield is quoted; none for a crop without one.
    pub standard: Option<StandardMoisture>,
}

/// The yield of one plot, as harvested and at standard moisture side by side.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct HarvestYield {
    /// Area that the yield is computed on, m2.
    pub area_m2: f64,
    /// Yield as harvested, kg/ha.
    pub raw_kg_ha: f64,
    /// Yield at standard moisture, kg/ha; missing when the moisture or the standard is.
    pub standard_kg_ha: Option<f64>,
    /// Moisture of the grain, % wet basis.
    pub moisture_pct: Option<f64>,
    /// Standard moisture, % wet basis.
    pub standard_moisture_pct: Option<f64>,
    /// What is doubtful.
    pub remarks: Vec<Remark>,
}

impl Harvest {
    /// The plot's yield: `mass / area x 10 000`, and the same at standard moisture.
    ///
    /// A missing moisture gives a missing standardised yield, never an assumed one.
    /// # Source
    /// Handbook of plot arithmetic, 7.2 (formula: University of Florida IFAS, SS-AGR-443).
    /// # Example
    /// ```
    /// # fn main() -> Result<(), guardrow_agronomy::Refused> {
    /// use guardrow_agronomy::amount::{PlotLength, PlotWidth};
    /// use guardrow_agronomy::harvest::{Harvest, Moisture, PlotMass, StandardMoisture};
    /// let harvest = Harvest {
    ///     mass: PlotMass::kilograms(3.62)?,
    ///     moisture: Some(Moisture::percent(12.1)?),
    ///     length: PlotLength::metres(6.0)?,
    ///     width: PlotWidth::metres(1.52)?,
    ///     standard: Some(StandardMoisture::percent(13.0)?),
    /// };
    /// assert_eq!(harvest.yields().standard_kg_ha.map(f64::round), Some(4010.0));
    /// # Ok(())
    /// # }
    /// ```
    #[must_use]
    pub fn yields(&self) -> HarvestYield {
        let area = GroundArea::of_plot(self.width, self.length);
        let per_ha = |mass: PlotMass| mass.in_kilograms() / area.in_square_metres() * 10_000.0;
        let standardised =
            self.moisture.zip(self.standard).map(|(moisture, standard)| self.mass.at_standard(moisture, standard));
        HarvestYield {
            area_m2: area.in_square_metres(),
            raw_kg_ha: per_ha(self.mass),
            standard_kg_ha: standardised.map(per_ha),
            moisture_pct: self.moisture.map(Moisture::in_percent),
            standard_moisture_pct: self.standard.map(StandardMoisture::in_percent),
            remarks: self.remarks(area),
        }
    }

    /// The plot's yield, with what is doubtful about the moisture of this crop.
    #[must_use]
    pub fn yields_of(&self, crop: &Crop) -> HarvestYield {
        let mut yields = self.yields();
        if let Some(moisture) = self.moisture {
            let known = moisture.remarks().len();
            yields.remarks.extend(check_for_crop(Field::Moisture, moisture.in_percent(), crop).split_off(known));
        }
        yields
    }

    fn remarks(&self, area: GroundArea) -> Vec<Remark> {
        let mut remarks = self.mass.remarks();
        remarks.extend(self.moisture.map(Moisture::remarks).unwrap_or_default());
        remarks.extend(self.length.remarks());
        remarks.extend(area.remarks());
        if self.moisture.is_none() {
            let sentence = "No moisture was taken: the yield is as harvested only.";
            remarks.push(Remark::warn(
                sentence,
                "Measure the moisture of a kept sample, or leave the plot out of standardised yields.",
            ));
        }
        if self.standard.is_none() {
            let sentence = "No standard moisture is set for the crop: the yield is as harvested only.";
            remarks.push(Remark::warn(sentence, "Choose the moisture at which the station quotes this crop."));
        }
        remarks
    }
}

impl HarvestYield {
    /// Yield as harvested.
    #[must_use]
    pub fn raw(&self) -> Quantity {
        Quantity::new(self.raw_kg_ha, Unit::KgPerHa)
    }

    /// Yield at standard moisture.
    #[must_use]
    pub fn standard(&self) -> Option<Quantity> {
        self.standard_kg_ha.map(|kg_ha| Quantity::new(kg_ha, Unit::KgPerHa))
    }

    /// Yield at standard moisture, t/ha.
    #[must_use]
    pub fn standard_t_ha(&self) -> Option<f64> {
        self.standard_kg_ha.map(|kg_ha| kg_ha / 1000.0)
    }

    /// Yield at standard moisture, bu/ac: `kg/ha / (W x 1.1208511562)`.
    #[must_use]
    pub fn standard_bu_ac(&self, bushel: Bushel) -> Option<f64> {
        self.standard_kg_ha.map(|kg_ha| kg_ha / (bushel.in_pounds() * LB_AC_KG_HA))
    }

    /// Which yield a table shows and at what moisture, in words: `at 13 % moisture` or `as harvested`.
    #[must_use]
    pub fn basis(&self) -> String {
        match (self.standard_kg_ha, self.standard_moisture_pct) {
            (Some(_), Some(percent)) => format!("at {} % moisture", shown(percent, i32::from(percent.fract() != 0.0))),
            _ => "as harvested".to_owned(),
        }
    }
}

/// Water lost from grain dried from one moisture to another, % of the delivered mass: `100 (M1 - M2) / (100 - M2)`.
///
/// An elevator's shrink per point is not this: it includes handling loss. Negative when the grain takes up water.
/// # Source
/// Canadian Grain Commission, Order 2017-01.
#[must_use]
pub fn water_shrink_pct(from: Moisture, to: Moisture) -> f64 {
    100.0 * (from.in_percent() - to.in_percent()) / (100.0 - to.in_percent())
}

/// The mass that is paid for when a buyer does not pay for water that is not there: at standard, but at most as
/// delivered.
///
/// For money only; yields are compared at standard moisture in both directions.
#[must_use]
pub fn paid_mass(delivered: PlotMass, moisture: Moisture, standard: StandardMoisture) -> PlotMass {
    let at_standard = delivered.at_standard(moisture, standard);
    if at_standard > delivered { delivered } else { at_standard }
}
