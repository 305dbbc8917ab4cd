//! Drawing lots: which treatment falls on which plot.

use crate::random::{ALGORITHM, RandomStream, Seed};
use crate::{Arrangement, DesignError, MAIN_PLOT, SUBPLOT, TreatmentStructure};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One randomisation of a trial, with what is needed to make it again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Draw {
    /// Number of the drawing algorithm ([`ALGORITHM`] at the time).
    pub algorithm: u32,
    /// The seed it was drawn from.
    pub seed: Seed,
    /// All plots, replicate by replicate and in position order within each.
    pub plots: Vec<DrawnPlot>,
}

/// One plot of a draw.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct DrawnPlot {
    /// Replicate from 1; always 1 in a completely random trial, which has none.
    pub replicate: usize,
    /// Its other larger units by name, each numbered from 1 within the unit around it: the main plot of a split-plot.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub units: BTreeMap<String, usize>,
    /// Place from 1 within the replicate; plots are numbered in this order.
    pub position: usize,
    /// Index from 0 into [`TreatmentStructure::treatments`].
    pub treatment: usize,
}

/// Draws the treatments onto the plots, as the arrangement says.
///
/// - Completely random: all plots of the trial as one list, in random order.
/// - Randomised blocks: the plots of each replicate in an order of its own.
/// - Split-plot: in each replicate the combinations of the main-plot factors in random order; then within each main
///   plot, in the order of the main plots, the combinations of the other factors.
/// - Split-split-plot: the same once more, with the subplots of each main plot between the two.
/// - Strips on farms: the strips of each farm in an order of its own.
///
/// Before it is shuffled, a list is in the order of [`TreatmentStructure::treatments`], a repeated control's plots side by side.
///
/// # Errors
/// Whatever [`Arrangement::check`] finds; [`DesignError::NotDrawn`] for an arrangement that cannot be drawn yet.
/// # Source
/// As any text on experiments, for example Cochran & Cox (1957), chapters 4 and 7 (from memory). The random steps are in
/// `docs/numbers/randomisation.md`.
/// # Example
/// ```
/// use guardrow_design::{Arrangement, Factor, Seed, TreatmentStructure, draw};
/// let treatments = TreatmentStructure {
///     factors: vec![Factor::qualitative("seeding date", &["early", "middle", "late"])],
///     controls: vec![],
/// };
/// let drawn = draw(&treatments, &Arrangement::RandomisedBlocks { replicates: 4 }, Seed::from_number(2026))?;
/// assert_eq!(drawn.plots.len(), 12);
/// # Ok::<(), guardrow_design::DesignError>(())
/// ```
pub fn draw(treatments: &TreatmentStructure, arrangement: &Arrangement, seed: Seed) -> Result<Draw, DesignError> {
    arrangement.check(treatments)?;
    let mut stream = RandomStream::new(&seed);
    let plots = match arrangement {
        Arrangement::CompletelyRandom { replicates } => one_tract(treatments, *replicates, &mut stream),
        Arrangement::RandomisedBlocks { replicates } | Arrangement::FarmStrips { replicates } => {
            (1..=*replicates).flat_map(|replicate| block(treatments, replicate, &mut stream)).collect()
        }
        Arrangement::SplitPlot { replicates, .. } => {
            split(treatments, arrangement, &[MAIN_PLOT], *replicates, &mut stream)
        }
        Arrangement::SplitSplitPlot { replicates, .. } => {
            split(treatments, arrangement, &[MAIN_PLOT, SUBPLOT], *replicates, &mut stream)
        }
        Arrangement::LatinSquare { .. } => return not_drawn("a Latin square"),
        Arrangement::StripPlot { .. } => return not_drawn("a strip-plot"),
        Arrangement::IncompleteBlocks { .. } => return not_drawn("an arrangement in incomplete blocks"),
        Arrangement::RowColumn { .. } => return not_drawn("a row-column arrangement"),
        Arrangement::AugmentedBlocks { .. } => return not_drawn("an arrangement in augmented blocks"),
        Arrangement::Stated(_) => return not_drawn("an arrangement of stated units"),
    };
    Ok(Draw { algorithm: ALGORITHM, seed, plots })
}

fn not_drawn(arrangement: &'static str) -> Result<Draw, DesignError> {
    Err(DesignError::NotDrawn { arrangement })
}

fn one_tract(treatments: &TreatmentStructure, replicates: usize, stream: &mut RandomStream) -> Vec<DrawnPlot> {
    let mut list = treatments_of_plots(treatments, replicates);
    stream.shuffle(&mut list);
    in_position_order(1, list.into_iter().map(|treatment| (BTreeMap::new(), treatment)))
}

fn block(treatments: &TreatmentStructure, replicate: usize, stream: &mut RandomStream) -> Vec<DrawnPlot> {
    let mut list = treatments_of_plots(treatments, 1);
    stream.shuffle(&mut list);
    in_position_order(replicate, list.into_iter().map(|treatment| (BTreeMap::new(), treatment)))
}

/// The treatment of each plot before shuffling, each treatment `times` as often as it stands in one replicate.
fn treatments_of_plots(treatments: &TreatmentStructure, times: usize) -> Vec<usize> {
    let plots_of = |treatment| treatments.plots_of(treatment) * times;
    (0..treatments.treatment_count()).flat_map(|treatment| vec![treatment; plots_of(treatment)]).collect()
}

fn in_position_order(
    replicate: usize,
    plots: impl Iterator<Item = (BTreeMap<String, usize>, usize)>,
) -> Vec<DrawnPlot> {
    plots
        .enumerate()
        .map(|(index, (units, treatment))| DrawnPlot { replicate, units, position: index + 1, treatment })
        .collect()
}

/// Every replicate cut into the named units, each inside the one before it, and those into plots.
fn split(
    treatments: &TreatmentStructure,
    arrangement: &Arrangement,
    units: &[&str],
    replicates: usize,
    stream: &mut RandomStream,
) -> Vec<DrawnPlot> {
    let all = treatments.treatments();
    let levels_on = |unit: &str, treatment: usize| -> Vec<usize> {
        let factors = arrangement.factors_on(unit, treatments);
        factors.into_iter().map(|factor| all[treatment].levels[factor]).collect()
    };
    let cut = Cut::of((0..all.len()).collect(), units, &levels_on);
    (1..=replicates)
        .flat_map(|replicate| {
            let mut cut = cut.clone();
            cut.shuffle(stream);
            let mut plots = Vec::new();
            cut.plots(units, &BTreeMap::new(), &mut plots);
            in_position_order(replicate, plots.into_iter())
        })
        .collect()
}

/// Treatments divided over units of one kind, which may be divided again.
#[derive(Clone)]
enum Cut {
    Units(Vec<Cut>),
    Plots(Vec<usize>),
}

impl Cut {
    fn of(treatments: Vec<usize>, units: &[&str], levels_on: &impl Fn(&str, usize) -> Vec<usize>) -> Self {
        let [unit, inner @ ..] = units else { return Self::Plots(treatments) };
        let mut parts: Vec<(Vec<usize>, Vec<usize>)> = Vec::new();
        for treatment in treatments {
            let levels = levels_on(unit, treatment);
            match parts.iter_mut().find(|(known, _)| *known == levels) {
                Some((_, within)) => within.push(treatment),
                None => parts.push((levels, vec![treatment])),
            }
        }
        Self::Units(parts.into_iter().map(|(_, within)| Self::of(within, inner, levels_on)).collect())
    }

    fn shuffle(&mut self, stream: &mut RandomStream) {
        match self {
            Self::Plots(plots) => stream.shuffle(plots),
            Self::Units(units) => {
                stream.shuffle(units);
                units.iter_mut().for_each(|unit| unit.shuffle(stream));
            }
        }
    }

    fn plots(
        &self,
        units: &[&str],
        around: &BTreeMap<String, usize>,
        plots: &mut Vec<(BTreeMap<String, usize>, usize)>,
    ) {
        match self {
            Self::Plots(treatments) => plots.extend(treatments.iter().map(|&treatment| (around.clone(), treatment))),
            Self::Units(parts) => {
                for (index, part) in parts.iter().enumerate() {
                    let mut inside = around.clone();
                    inside.insert(units[0].to_owned(), index + 1);
                    part.plots(&units[1..], &inside, plots);
                }
            }
        }
    }
}
