//! Drawing lots: which treatment falls on which plot.

use crate::random::{ALGORITHM, RandomStream, Seed};
use crate::{Arrangement, DesignError, TreatmentStructure};
use serde::{Deserialize, Serialize};

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
    /// Main plot from 1 within the replicate; only in a split-plot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub main_plot: Option<usize>,
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
///
/// Before it is shuffled, a list is in the order of [`TreatmentStructure::treatments`], a repeated control's plots side by side.
///
/// # Errors
/// Whatever [`Arrangement::check`] finds.
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
        Arrangement::RandomisedBlocks { replicates } => {
            (1..=*replicates).flat_map(|replicate| block(treatments, replicate, &mut stream)).collect()
        }
        Arrangement::SplitPlot { replicates, main_plot_factors } => {
            let split = SplitTreatments::new(treatments, main_plot_factors);
            (1..=*replicates).flat_map(|replicate| split.block(replicate, &mut stream)).collect()
        }
    };
    Ok(Draw { algorithm: ALGORITHM, seed, plots })
}

fn one_tract(treatments: &TreatmentStructure, replicates: usize, stream: &mut RandomStream) -> Vec<DrawnPlot> {
    let mut list = treatments_of_plots(treatments, replicates);
    stream.shuffle(&mut list);
    in_position_order(1, list.into_iter().map(|treatment| (None, treatment)))
}

fn block(treatments: &TreatmentStructure, replicate: usize, stream: &mut RandomStream) -> Vec<DrawnPlot> {
    let mut list = treatments_of_plots(treatments, 1);
    stream.shuffle(&mut list);
    in_position_order(replicate, list.into_iter().map(|treatment| (None, treatment)))
}

/// The treatment of each plot before shuffling, each treatment `times` as often as it stands in one replicate.
fn treatments_of_plots(treatments: &TreatmentStructure, times: usize) -> Vec<usize> {
    let plots_of = |treatment| treatments.plots_of(treatment) * times;
    (0..treatments.treatment_count()).flat_map(|treatment| vec![treatment; plots_of(treatment)]).collect()
}

fn in_position_order(replicate: usize, plots: impl Iterator<Item = (Option<usize>, usize)>) -> Vec<DrawnPlot> {
    plots
        .enumerate()
        .map(|(index, (main_plot, treatment))| DrawnPlot { replicate, main_plot, position: index + 1, treatment })
        .collect()
}

/// The treatments of a split-plot, one list for each combination of the main-plot factors.
struct SplitTreatments {
    main_plots: Vec<Vec<usize>>,
}

impl SplitTreatments {
    fn new(treatments: &TreatmentStructure, main_plot_factors: &[String]) -> Self {
        let on_main_plot: Vec<bool> =
            treatments.factors.iter().map(|factor| main_plot_factors.contains(&factor.name)).collect();
        let mut combinations: Vec<(Vec<usize>, Vec<usize>)> = Vec::new();
        for (index, treatment) in treatments.treatments().iter().enumerate() {
            let main: Vec<usize> =
                treatment.levels.iter().zip(&on_main_plot).filter(|(_, on)| **on).map(|(level, _)| *level).collect();
            match combinations.iter_mut().find(|(known, _)| *known == main) {
                Some((_, within)) => within.push(index),
                None => combinations.push((main, vec![index])),
            }
        }
        Self { main_plots: combinations.into_iter().map(|(_, within)| within).collect() }
    }

    fn block(&self, replicate: usize, stream: &mut RandomStream) -> Vec<DrawnPlot> {
        let mut main_plots = self.main_plots.clone();
        stream.shuffle(&mut main_plots);
        main_plots.iter_mut().for_each(|within| stream.shuffle(within));
        let plots = main_plots.into_iter().enumerate();
        let plots =
            plots.flat_map(|(index, within)| within.into_iter().map(move |treatment| (Some(index + 1), treatment)));
        in_position_order(replicate, plots)
    }
}
