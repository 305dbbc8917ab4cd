//! The seed of one plot, and what a lot must hold for all of its plots.

use serde::{Deserialize, Serialize};

use crate::amount::GroundArea;
use crate::crop::Crop;
use crate::limits::{Field, Level, Refused, Remark, check, check_for_crop};
use crate::rounding::{half_away, shown, up_to_step};
use crate::seed::{SeedingRate, Survival, TargetStand, ThousandKernelWeight, factor_over, not_negative_mass};

/// How packets are filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Fill {
    /// By weight, for drilled crops: to 0.1 g, under 10 g to 0.01 g.
    #[default]
    Weight,
    /// By number, for seeders that single the seed and for low stands: up to a whole seed.
    Count,
}

/// What a packet is worked out from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PacketPlan {
    /// Stand that is aimed at.
    pub target_stand: TargetStand,
    /// Share of all seeds that become plants.
    pub survival: Survival,
    /// The lot's own thousand-kernel weight.
    pub tkw: ThousandKernelWeight,
    /// Ground that the packet sows: all rows of the cone, over the whole sown length.
    pub sown_area: GroundArea,
    /// Seed put in beyond need, %, 0 to 100.
    pub overfill_pct: f64,
    /// By weight or by number.
    pub fill: Fill,
}

/// The seed of one plot.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct Packet {
    /// Seeding rate before overfill, seeds/m2.
    pub seeds_per_m2: f64,
    /// Ground that the packet sows, m2.
    pub sown_area_m2: f64,
    /// Seeds with overfill, unrounded.
    pub seeds_exact: f64,
    /// Seeds to count, rounded up.
    pub seeds: u64,
    /// Weight with overfill, unrounded, g; for a counted packet the weight of its whole seeds.
    pub grams_exact: f64,
    /// Weight to weigh, g, rounded as the balance is read.
    pub grams: f64,
    /// By weight or by number.
    pub fill: Fill,
    /// The formula with its numbers, for checking by hand.
    pub formula: String,
    /// What is doubtful.
    pub remarks: Vec<Remark>,
}

impl PacketPlan {
    /// Works the packet out: `seeds = stand / survival x area x (1 + overfill)`, `grams = seeds x TKW / 1000`.
    ///
    /// # Errors
    /// [`Refused`] for an overfill outside 0 to 100 %, or amounts too large to be a packet.
    /// # Source
    /// Common practice, no source (handbook of plot arithmetic, 2.5).
    pub fn packet(&self) -> Result<Packet, Refused> {
        let over = factor_over(Field::Overfill, self.overfill_pct)?;
        let rate = SeedingRate::for_stand(self.target_stand, self.survival);
        let seeds_exact = rate.in_seeds_per_m2() * self.sown_area.in_square_metres() * over;
        let seeds = up_to_step(seeds_exact, 1.0);
        // Beyond this doubles no longer hold whole numbers exactly, and no packet holds so many seeds.
        if !seeds.is_finite() || seeds > 1e12 {
            return Err(Refused::new("number of seeds in the packet", seeds, crate::unit::Unit::Count, "at most 1e12"));
        }
        let counted = match self.fill {
            Fill::Weight => seeds_exact,
            Fill::Count => seeds,
        };
        let grams_exact = counted * self.tkw.in_grams() / 1000.0;
        Ok(Packet {
            seeds_per_m2: rate.in_seeds_per_m2(),
            sown_area_m2: self.sown_area.in_square_metres(),
            seeds_exact,
            seeds: seeds as u64,
            grams_exact,
            grams: half_away(grams_exact, packet_decimals(grams_exact)),
            fill: self.fill,
            formula: self.formula(rate, seeds_exact, grams_exact),
            remarks: self.remarks(),
        })
    }

    /// What is doubtful about the target stand and the seed weight for this crop.
    #[must_use]
    pub fn crop_remarks(&self, crop: &Crop) -> Vec<Remark> {
        let mut remarks = check_for_crop(Field::TargetStand, self.target_stand.in_plants_per_m2(), crop);
        remarks.extend(check_for_crop(Field::ThousandKernelWeight, self.tkw.in_grams(), crop));
        remarks
    }

    fn formula(&self, rate: SeedingRate, seeds: f64, grams: f64) -> String {
        format!(
            "{} plants/m2 / {} % = {} seeds/m2; x {} m2 x {} = {} seeds; x {} g / 1000 = {} g",
            shown(self.target_stand.in_plants_per_m2(), 1),
            shown(self.survival.in_percent(), 2),
            shown(rate.in_seeds_per_m2(), 1),
            shown(self.sown_area.in_square_metres(), 2),
            shown(1.0 + self.overfill_pct / 100.0, 2),
            shown(seeds, 1),
            self.tkw.shown(),
            shown(grams, packet_decimals(grams)),
        )
    }

    fn remarks(&self) -> Vec<Remark> {
        let mut remarks = self.survival.remarks();
        remarks.extend(check(Field::Overfill, self.overfill_pct));
        if self.overfill_pct == 0.0 && self.fill == Fill::Weight {
            let sentence = "Without overfill a metering unit that is not a cone runs out before the plot's end.";
            remarks.push(Remark::note(sentence, "Add 10 to 20 % unless a cone spreads the whole packet."));
        }
        remarks
    }
}

/// Decimals of a packet's weight: 0.1 g, under 10 g 0.01 g.
#[must_use]
pub fn packet_decimals(grams: f64) -> i32 {
    if grams < 10.0 { 2 } else { 1 }
}

/// What a lot must hold for its plots, and what is left of it.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct LotBalance {
    /// Packets that are filled from the lot.
    pub packets: usize,
    /// Seeds needed, reserve included.
    pub need_seeds: f64,
    /// Weight needed, reserve included, g.
    pub need_grams: f64,
    /// Seeds on hand, by the lot's own thousand-kernel weight.
    pub stock_seeds: f64,
    /// Weight on hand, g.
    pub stock_grams: f64,
    /// Weight left after all packets and the reserve, g; negative is what is missing.
    pub left_grams: f64,
    /// Packets, from the last, that cannot be filled even without the reserve.
    pub packets_short: usize,
    /// What is doubtful.
    pub remarks: Vec<Remark>,
}

impl LotBalance {
    /// Sums the packets of one lot over treatments, replicates and sites, and compares them with the stock.
    ///
    /// - `packets`: every packet filled from the lot, in packing order
    /// - `reserve_pct`: kept beyond the packets, %, 0 or more
    /// - `stock_grams`: on hand, g
    /// - `tkw`: the lot's own thousand-kernel weight
    /// # Errors
    /// [`Refused`] for a negative reserve or stock.
    /// # Source
    /// Common practice, no source (handbook of plot arithmetic, 2.6).
    pub fn of(
        packets: &[Packet],
        reserve_pct: f64,
        stock_grams: f64,
        tkw: ThousandKernelWeight,
    ) -> Result<Self, Refused> {
        let over = factor_over(Field::Reserve, reserve_pct)?;
        let stock_grams = not_negative_mass(stock_grams, "stock of the lot")?;
        let seeds_of = |grams: f64| grams * 1000.0 / tkw.in_grams();
        let need_grams = packets.iter().map(|packet| packet.grams_exact).sum::<f64>() * over;
        let left_grams = stock_grams - need_grams;
        let packets_short = packets_short(packets, stock_grams);
        Ok(Self {
            packets: packets.len(),
            need_seeds: seeds_of(need_grams),
            need_grams,
            stock_seeds: seeds_of(stock_grams),
            stock_grams,
            left_grams,
            packets_short,
            remarks: balance_remark(left_grams, packets_short).into_iter().collect(),
        })
    }
}

fn packets_short(packets: &[Packet], stock_grams: f64) -> usize {
    let mut left = stock_grams;
    let filled = packets.iter().take_while(|packet| {
        left -= packet.grams_exact;
        // Grams are summed in another order elsewhere; a millionth of a gram is no shortfall.
        left >= -1e-6
    });
    packets.len() - filled.count()
}

fn balance_remark(left_grams: f64, packets_short: usize) -> Option<Remark> {
    if left_grams >= -1e-6 {
        return None;
    }
    let missing = shown(-left_grams, packet_decimals(-left_grams));
    let sentence = match packets_short {
        0 => format!("The packets can be filled, but the reserve is short by {missing} g."),
        plots => format!("The lot is short by {missing} g; {plots} packet(s) cannot be filled."),
    };
    Some(Remark::new(Level::Warn, sentence, "Find more seed of the lot, use less overfill, or plan fewer plots."))
}

/// Weight to order, kg: the need rounded up to 0.1 kg.
#[must_use]
pub fn order_kg(need_grams: f64) -> f64 {
    up_to_step(need_grams / 1000.0, 0.1)
}

/// Whole bags that hold a weight of seed.
///
/// - `need` and `bag`: in one unit of weight, `bag` above zero
/// # Errors
/// [`Refused`] for a bag without weight or a negative need.
/// # Source
/// Iowa State University, Agronomy 212, calculations page: bags = area x rate / bag weight, rounded up.
pub fn bags(need: f64, bag: f64) -> Result<u64, Refused> {
    let need = not_negative_mass(need, "seed needed")?;
    if !(bag.is_finite() && bag > 0.0) {
        return Err(Refused::new("weight of a bag", bag, crate::unit::Unit::Gram, "above 0"));
    }
    Ok(up_to_step(need / bag, 1.0) as u64)
}
