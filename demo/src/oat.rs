//! Oat, finished randomised blocks: three sources of nitrogen, and plots without any.
//!
//! The truth behind the data: nitrogen pays; pellets do as mineral nitrogen does; composted bedding lies behind by
//! nearly the margin, so that six replicates cannot say on which side of it.

use guardrow_design::Seed;
use guardrow_station::{Station, StationError};
use jiff::civil::date;

use crate::draws::Draws;
use crate::table::Table;
use crate::walk::{Plot, Walk};
use crate::{Papers, Step, TrialOutcome, seed_lots};

/// Index of mineral nitrogen among the treatments.
pub(crate) const MINERAL: usize = 0;
/// Index of pelleted digestate.
pub(crate) const PELLETS: usize = 1;
/// Index of composted bedding.
pub(crate) const COMPOST: usize = 2;
/// Index of the control.
pub(crate) const NONE: usize = 3;

/// True yields, t/ha.
pub(crate) const YIELD: [f64; 4] = [4.62, 4.59, 4.34, 3.20];

const NITRATE_MG_KG: [f64; 4] = [17.0, 15.5, 12.0, 6.0];
const WEED_COVER_PCT: [f64; 4] = [6.0, 6.5, 7.5, 5.0];
const PANICLES_M2: [f64; 4] = [395.0, 388.0, 372.0, 305.0];
const HEIGHT_CM: [f64; 4] = [104.0, 103.0, 101.0, 89.0];

const PLAN: &str = include_str!("../plans/oat-nitrogen.toml");
const REPLICATES: usize = 6;
const HARVESTED_WIDTH_M: f64 = 1.5;
const STANDARD_MOISTURE_PCT: f64 = 13.5;

/// Takes the trial from its question to its data package.
pub(crate) fn run(
    station: &Station,
    seed: &Seed,
    papers: Papers,
    progress: &mut dyn FnMut(Step),
) -> Result<TrialOutcome, StationError> {
    let mut walk = Walk::new(station, "oat-nitrogen.toml", PLAN, papers, progress)?;
    walk.on("2025-01-20T08:30:00Z");
    walk.ask("Mirel")?;
    walk.on("2025-02-05T10:00:00Z");
    walk.plan("Mirel")?;
    walk.on("2025-03-20T09:15:00Z");
    let plots = walk.draw("Mirel", 285)?;
    walk.supply("Tavi", vec![seed_lots::oat()])?;
    walk.print_for_seeding("Tavi")?;
    let mut draws = Draws::of_trial(seed, 2);
    season(&mut walk, &plots, &mut draws)?;
    harvest(&mut walk, &plots, &mut draws)?;
    walk.on("2025-11-05T09:00:00Z");
    walk.publish("Mirel")
}

fn season(walk: &mut Walk<'_>, plots: &[Plot], draws: &mut Draws) -> Result<(), StationError> {
    walk.on("2025-04-11T17:00:00Z");
    walk.note("Tavi", "operation", date(2025, 4, 11), "Seeded at 3 cm, 09:10 to 10:50; dressings spread by hand the same afternoon, 80 kg of available nitrogen per hectare each.", &[])?;
    walk.on("2025-05-22T15:00:00Z");
    walk.print_sheet("Tavi", "Tillering")?;
    let nitrate = observed(plots, &NITRATE_MG_KG, 1.0, 1.8, draws);
    let weeds = observed(plots, &WEED_COVER_PCT, 0.8, 1.6, draws);
    // The laboratory writes one row per value, and commas.
    let mut laboratory = Table::new(&["plot", "measure", "value", "unit"]);
    for (plot, value) in plots.iter().zip(&nitrate) {
        laboratory.push([
            plot.number.to_string(),
            "soil_nitrate".into(),
            format!("{:.1}", value.max(0.5)),
            "mg/kg".into(),
        ]);
    }
    walk.take_in("Jonna", "laboratory-nitrate.csv", laboratory.with_decimal_commas())?;
    let scores: Vec<(u32, String)> =
        plots.iter().zip(&weeds).map(|(plot, cover)| (plot.number, format!("{:.0}", cover.max(0.0)))).collect();
    walk.type_in("Mirel", date(2025, 5, 22), "weed_cover", &scores)?;
    walk.on("2025-07-03T14:00:00Z");
    let panicles = observed(plots, &PANICLES_M2, 8.0, 18.0, draws);
    let height = observed(plots, &HEIGHT_CM, 1.5, 2.5, draws);
    let mut heading = Table::new(&["plot", "treatment", "panicles", "height"]);
    for ((plot, panicles), height) in plots.iter().zip(&panicles).zip(&height) {
        heading.push([plot.number.to_string(), plot.label.clone(), format!("{panicles:.0}"), format!("{height:.0}")]);
    }
    walk.take_in("Jonna", "after-heading.csv", heading.with_points())?;
    walk.note("Mirel", "weather", date(2025, 7, 6), "62 mm of rain in three days; nothing lodged.", &[])
}

fn harvest(walk: &mut Walk<'_>, plots: &[Plot], draws: &mut Draws) -> Result<(), StationError> {
    walk.on("2025-08-19T18:00:00Z");
    walk.note(
        "Tavi",
        "operation",
        date(2025, 8, 19),
        "Harvested, 13:00 to 16:30; scale checked before and after.",
        &[],
    )?;
    let yields = observed(plots, &YIELD, 0.14, 0.13, draws);
    let mut cut = Table::new(&["plot", "harvest_mass", "harvest_moisture", "harvested_length", "harvested_width"]);
    for (plot, yield_t_ha) in plots.iter().zip(&yields) {
        let length = 9.0 + draws.normal(0.05);
        let moisture = 14.6 + draws.normal(0.5);
        let dry_share = (100.0 - STANDARD_MOISTURE_PCT) / (100.0 - moisture);
        let mass = yield_t_ha / 10.0 * length * HARVESTED_WIDTH_M * dry_share;
        let cells = [format!("{mass:.3}"), format!("{moisture:.1}"), format!("{length:.2}"), "1.5".to_owned()];
        cut.push(std::iter::once(plot.number.to_string()).chain(cells));
    }
    let mut wet = Table::new(&["plot", "harvest_moisture"]);
    wet.push([plots[0].number.to_string(), "146".to_owned()]);
    walk.see_refused("Tavi", "moisture-without-its-point.csv", wet.with_points())?;
    walk.take_in("Tavi", "harvest.csv", cut.with_decimal_commas())
}

/// One value per plot: the treatment's true mean, the block and the plot.
fn observed(plots: &[Plot], truth: &[f64; 4], block_sd: f64, plot_sd: f64, draws: &mut Draws) -> Vec<f64> {
    let blocks = draws.normals(REPLICATES, block_sd);
    plots.iter().map(|plot| truth[plot.treatment] + blocks[plot.replicate - 1] + draws.normal(plot_sd)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    // Over 200 seasons the mean difference of two treatments has a standard error of 0.13 x sqrt(2/6/200) = 0.0053;
    // the tolerance is four of them.
    #[test]
    fn over_many_seasons_the_differences_are_the_true_ones() {
        let plots: Vec<Plot> = (0..24)
            .map(|at| Plot {
                number: at as u32,
                replicate: at / 4 + 1,
                main_plot: 0,
                treatment: at % 4,
                label: String::new(),
            })
            .collect();
        let mut draws = Draws::of_trial(&Seed::from_number(5), 2);
        let mut sums = [0.0; 4];
        for _ in 0..200 {
            let yields = observed(&plots, &YIELD, 0.14, 0.13, &mut draws);
            plots.iter().zip(yields).for_each(|(plot, value)| sums[plot.treatment] += value / 1200.0);
        }
        for other in [PELLETS, COMPOST, NONE] {
            let difference = sums[other] - sums[MINERAL];
            assert!((difference - (YIELD[other] - YIELD[MINERAL])).abs() < 0.021, "{other}: {difference}");
        }
    }
}
