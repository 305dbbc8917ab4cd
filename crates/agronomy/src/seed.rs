//! Seed size, the share of seed that becomes plants, and seeding rates.

use serde::Serialize;

use crate::amount::{RowSpacing, amount};
use crate::limits::{Field, Refused, Remark, accept};
use crate::rounding::shown;

/// Square metres in an acre, exact (international acre).
pub(crate) const ACRE_M2: f64 = 4046.8564224;
/// Square metres in a square foot, exact.
pub(crate) const SQUARE_FOOT_M2: f64 = 0.09290304;
/// Grams in a pound, exact.
const POUND_G: f64 = 453.59237;
/// kg/ha in one lb/ac, exact factors.
pub(crate) const LB_AC_KG_HA: f64 = 0.45359237 / 0.40468564224;

amount! {
    /// Thousand-kernel weight: the weight of a thousand seeds, g.
    ThousandKernelWeight, ThousandKernelWeight, grams, in_grams, "grams"
}

impl ThousandKernelWeight {
    /// From a counted sample: `mass / n x 1000`.
    ///
    /// - `mass_g`: weight of the counted seeds, g
    /// - `seeds`: number counted; fewer than 100 is doubtful ([`SeedSamples`] says so)
    /// # Errors
    /// [`Refused`] for no seeds or no mass.
    pub fn of_sample(mass_g: f64, seeds: u32) -> Result<Self, Refused> {
        if seeds == 0 {
            return Err(Refused::new(
                "number of seeds counted",
                0.0,
                crate::unit::Unit::Count,
                "a whole number from 1",
            ));
        }
        Self::grams(mass_g / f64::from(seeds) * 1000.0)
    }

    /// From the number of seeds in a pound: `453 592.37 / seeds`.
    ///
    /// # Errors
    /// [`Refused`] when not above zero.
    pub fn seeds_per_lb(seeds: f64) -> Result<Self, Refused> {
        Self::grams(1000.0 * POUND_G / seeds)
    }

    /// Seeds in a kilogram: `1 000 000 / TKW`.
    #[must_use]
    pub fn in_seeds_per_kg(self) -> f64 {
        1e6 / self.0
    }

    /// Seeds in a pound: `453 592.37 / TKW`.
    #[must_use]
    pub fn in_seeds_per_lb(self) -> f64 {
        1000.0 * POUND_G / self.0
    }

    /// As the trade shows it: 0.1 g below 100 g, 1 g from there.
    #[must_use]
    pub fn shown(self) -> String {
        shown(self.0, if self.0 < 100.0 { 1 } else { 0 })
    }
}

/// Several counted samples of one lot.
#[derive(Debug, Clone, PartialEq)]
pub struct SeedSamples {
    /// Mean of the samples' thousand-kernel weights.
    pub mean: ThousandKernelWeight,
    /// Largest less smallest, % of the mean.
    pub spread_pct: f64,
    /// What is doubtful about the samples.
    pub remarks: Vec<Remark>,
}

impl SeedSamples {
    /// Joins counted samples, each `(mass in g, number of seeds)`.
    ///
    /// Fewer than three samples, fewer than 100 seeds in one, or a spread over 5 % gets a remark.
    /// # Errors
    /// [`Refused`] for no sample, or one without seeds or mass.
    /// # Source
    /// Handbook of plot arithmetic, 2.1: three samples are common practice; the 5 % is from memory (international seed
    /// testing rules use a limit on the coefficient of variation instead).
    pub fn join(samples: &[(f64, u32)]) -> Result<Self, Refused> {
        let weights: Vec<f64> = samples
            .iter()
            .map(|&(mass, seeds)| ThousandKernelWeight::of_sample(mass, seeds).map(ThousandKernelWeight::in_grams))
            .collect::<Result<_, _>>()?;
        if weights.is_empty() {
            return Err(Refused::new("number of samples", 0.0, crate::unit::Unit::Count, "a whole number from 1"));
        }
        let mean = ThousandKernelWeight::grams(weights.iter().sum::<f64>() / weights.len() as f64)?;
        let largest = weights.iter().copied().fold(f64::MIN, f64::max);
        let smallest = weights.iter().copied().fold(f64::MAX, f64::min);
        let spread_pct = (largest - smallest) / mean.in_grams() * 100.0;
        Ok(Self { mean, spread_pct, remarks: sample_remarks(samples, spread_pct) })
    }
}

fn sample_remarks(samples: &[(f64, u32)], spread_pct: f64) -> Vec<Remark> {
    let mut remarks = Vec::new();
    if samples.len() < 3 {
        remarks.push(Remark::note(
            format!("Only {} sample(s) were counted.", samples.len()),
            "Count three samples of 100 to 250 seeds.",
        ));
    }
    if let Some((_, seeds)) = samples.iter().find(|(_, seeds)| *seeds < 100) {
        remarks.push(Remark::warn(
            format!("A sample has only {seeds} seeds."),
            "Count at least 100 seeds in each sample.",
        ));
    }
    if spread_pct > 5.0 {
        let sentence = format!("The largest and the smallest sample differ by {} % of the mean.", shown(spread_pct, 1));
        remarks.push(Remark::warn(sentence, "Draw and count new samples."));
    }
    remarks
}

amount! {
    /// Laboratory germination: share of pure seeds that germinate, %.
    Germination, Germination, percent, in_percent, "percent, 0 to 100"
}

amount! {
    /// Field emergence: share of *viable* seeds that come up, %.
    FieldEmergence, Emergence, percent, in_percent, "percent, 0 to 100"
}

impl FieldEmergence {
    /// From seedling mortality: `100 - mortality`.
    ///
    /// # Errors
    /// [`Refused`] when nothing would come up.
    pub fn of_mortality(mortality_pct: f64) -> Result<Self, Refused> {
        Self::percent(100.0 - mortality_pct)
    }
}

amount! {
    /// Share of pure seed in a lot, %.
    Purity, Purity, percent, in_percent, "percent, 0 to 100"
}

/// Share of pure live seed in a lot, %: `purity x germination / 100`.
///
/// Common practice, no source.
#[must_use]
pub fn pure_live_seed_pct(purity: Purity, germination: Germination) -> f64 {
    purity.in_percent() * germination.in_percent() / 100.0
}

amount! {
    /// Survival: share of *all* seeds sown that are plants at the count, %.
    Survival, Survival, percent, in_percent, "percent, 0 to 100"
}

impl Survival {
    /// Germination times field emergence: the rule that Guardrow uses.
    ///
    /// 95 % germination and 85 % emergence give 80.75 %.
    #[must_use]
    pub fn product(germination: Germination, emergence: FieldEmergence) -> Self {
        // Both are in (0, 100], so the product is as well.
        Self(germination.in_percent() * emergence.in_percent() / 100.0)
    }

    /// Germination less a number of points, as some advisers reckon: a named alternative, never mixed with the product.
    ///
    /// # Errors
    /// [`Refused`] when nothing is left.
    /// # Source
    /// A consulting agronomist's page of 2015 (97 % and 3 points give 94 %); Saskatchewan Pulse Growers speak of 5 to
    /// 15 points.
    pub fn points_off(germination: Germination, points: f64) -> Result<Self, Refused> {
        Self::percent(germination.in_percent() - points)
    }

    /// The share as a number from 0 to 1.
    #[must_use]
    pub fn in_share(self) -> f64 {
        self.0 / 100.0
    }
}

amount! {
    /// The stand that is aimed at, live plants per m2.
    TargetStand, TargetStand, plants_per_m2, in_plants_per_m2, "plants per square metre"
}

impl TargetStand {
    /// From plants per square foot.
    ///
    /// # Errors
    /// [`Refused`] when not above zero.
    pub fn plants_per_ft2(value: f64) -> Result<Self, Refused> {
        Self::plants_per_m2(value / SQUARE_FOOT_M2)
    }

    /// From plants per acre.
    ///
    /// # Errors
    /// [`Refused`] when not above zero.
    pub fn plants_per_ac(value: f64) -> Result<Self, Refused> {
        Self::plants_per_m2(value / ACRE_M2)
    }
}

amount! {
    /// A seeding rate by number, seeds per m2.
    SeedingRate, SeedsPerM2, seeds_per_m2, in_seeds_per_m2, "seeds per square metre"
}

impl SeedingRate {
    /// The rate that a target stand needs: `stand / survival`.
    ///
    /// # Source
    /// Government of Saskatchewan crops specialist, 2014 (metric form); Manitoba, seeding rate page of Crop Chatter.
    #[must_use]
    pub fn for_stand(target: TargetStand, survival: Survival) -> Self {
        Self(target.in_plants_per_m2() / survival.in_share())
    }

    /// From seeds per square foot.
    ///
    /// # Errors
    /// [`Refused`] when not above zero.
    pub fn seeds_per_ft2(value: f64) -> Result<Self, Refused> {
        Self::seeds_per_m2(value / SQUARE_FOOT_M2)
    }

    /// From seeds per acre.
    ///
    /// # Errors
    /// [`Refused`] when not above zero.
    pub fn seeds_per_ac(value: f64) -> Result<Self, Refused> {
        Self::seeds_per_m2(value / ACRE_M2)
    }

    /// From a rate by weight: `kg/ha x 100 / TKW`.
    ///
    /// # Errors
    /// [`Refused`] when not above zero.
    pub fn kg_per_ha(value: f64, tkw: ThousandKernelWeight) -> Result<Self, Refused> {
        Self::seeds_per_m2(value * 100.0 / tkw.in_grams())
    }

    /// The rate by weight: `seeds/m2 x TKW / 100`, kg/ha.
    #[must_use]
    pub fn in_kg_per_ha(self, tkw: ThousandKernelWeight) -> f64 {
        self.0 * tkw.in_grams() / 100.0
    }

    /// The rate by weight, lb/ac, with exact factors.
    #[must_use]
    pub fn in_lb_per_ac(self, tkw: ThousandKernelWeight) -> f64 {
        self.in_kg_per_ha(tkw) / LB_AC_KG_HA
    }

    /// Seeds per acre.
    #[must_use]
    pub fn in_seeds_per_ac(self) -> f64 {
        self.0 * ACRE_M2
    }

    /// Seeds per metre of row: `seeds/m2 x row spacing`.
    #[must_use]
    pub fn seeds_per_metre_of_row(self, spacing: RowSpacing) -> f64 {
        self.0 * spacing.in_metres()
    }

    /// Seeds per foot of row.
    #[must_use]
    pub fn seeds_per_foot_of_row(self, spacing: RowSpacing) -> f64 {
        self.seeds_per_metre_of_row(spacing) * 0.3048
    }

    /// Distance from seed to seed in the row: `100 / seeds per metre of row`, cm.
    #[must_use]
    pub fn seed_spacing_cm(self, spacing: RowSpacing) -> f64 {
        100.0 / self.seeds_per_metre_of_row(spacing)
    }
}

/// An acre rate beside the same rate by the growers' short formula, so that a hand figure can be explained.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct AcreRate {
    /// Rate with exact factors, lb/ac.
    pub exact_lb_ac: f64,
    /// Rate with the round divisor 10 in the place of 10.413, lb/ac: 4.1 % more.
    pub divisor_ten_lb_ac: f64,
    /// Why the two differ, in one sentence.
    pub explanation: String,
}

/// The acre rate of a target stand, exactly and by the short formula `plants/ft2 x TKW / (10 x survival)`.
///
/// # Source
/// Short formula: Manitoba, seeding rate page of Crop Chatter. The exact divisor is 453 592.37 / 43 560 = 10.413.
#[must_use]
pub fn acre_rate(target: TargetStand, tkw: ThousandKernelWeight, survival: Survival) -> AcreRate {
    let exact_lb_ac = SeedingRate::for_stand(target, survival).in_lb_per_ac(tkw);
    let plants_ft2 = target.in_plants_per_m2() * SQUARE_FOOT_M2;
    let divisor_ten_lb_ac = plants_ft2 * tkw.in_grams() / (10.0 * survival.in_share());
    let explanation = format!(
        "{} lb/ac with exact factors; growers' tables divide by 10 where 10.413 is exact, which gives {} lb/ac, 4.1 % more.",
        shown_rate(exact_lb_ac),
        shown_rate(divisor_ten_lb_ac)
    );
    AcreRate { exact_lb_ac, divisor_ten_lb_ac, explanation }
}

/// A seeding rate by weight as the trade shows it, kg/ha or lb/ac: to 0.1 below 20, to 1 from there.
///
/// Common practice, no source (handbook of plot arithmetic, 2.3).
#[must_use]
pub fn shown_rate(rate: f64) -> String {
    shown(rate, if rate < 20.0 { 1 } else { 0 })
}

/// A weight of seed that may be zero, g: what a lot holds or needs.
///
/// # Errors
/// [`Refused`] when negative or not finite.
pub(crate) fn not_negative_mass(grams: f64, what: &'static str) -> Result<f64, Refused> {
    if grams.is_finite() && grams >= 0.0 {
        Ok(grams)
    } else {
        Err(Refused::new(what, grams, crate::unit::Unit::Gram, "0 or more"))
    }
}

/// Overfill or reserve as a factor: `1 + percent / 100`.
pub(crate) fn factor_over(field: Field, percent: f64) -> Result<f64, Refused> {
    Ok(1.0 + accept(field, percent)? / 100.0)
}
