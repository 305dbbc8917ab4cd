//! The model of an analysis taken apart, so that it can be written down for another program.

use super::Analysis;
use crate::model::Kind;
use crate::terms::{Part, Term};
use crate::{InferenceError, PredictionKind};

/// The fixed means, the random terms and the terms that are tested, as they were analysed.
#[derive(Debug, Clone, PartialEq)]
pub struct ModelParts {
    /// All fixed means, whether a plot has them or not: places change slowest, then treatments in the trial's order.
    pub cells: Vec<PartCell>,
    /// For each plot of the experiment the index of its mean in `cells`; none for a plot that was left out.
    pub cell_of_plot: Vec<Option<usize>>,
    /// Names of the fixed factors.
    pub fixed_factors: Vec<String>,
    /// Random terms further out than the plots, coarser ones first.
    pub random: Vec<PartRandom>,
    /// The terms, in the order of the tests.
    pub terms: Vec<PartTerm>,
}

/// One fixed mean.
#[derive(Debug, Clone, PartialEq)]
pub struct PartCell {
    /// Pairs of a unit that is a fixed place or season and its index in the experiment; empty with one place.
    pub place: Vec<(String, usize)>,
    /// Label of the combination of fixed factors, or of the control.
    pub treatment: String,
    /// Index of the level of each fixed factor; none for a control.
    pub levels: Option<Vec<usize>>,
    /// Number of plots with a value.
    pub plots: usize,
}

/// One random term.
#[derive(Debug, Clone, PartialEq)]
pub struct PartRandom {
    /// Name for people.
    pub name: String,
    /// Names of the units and factors that together label one class.
    pub labels: Vec<String>,
    /// What its classes are.
    pub kind: PredictionKind,
    /// Whether it has a variance in the mixed model (and was not left out for lack of information).
    pub in_mixed: bool,
}

/// One fixed term.
#[derive(Debug, Clone, PartialEq)]
pub struct PartTerm {
    /// Name for people, as in the tests.
    pub label: String,
    /// Names of the units that are its places and seasons.
    pub places: Vec<String>,
    /// What of the treatments is compared.
    pub compared: Compared,
}

/// What of the treatments a term compares.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Compared {
    /// Nothing: places and seasons alone.
    Nothing,
    /// The controls and the factorial as a whole.
    ControlsAndFactorial,
    /// Some factors, by name.
    Factors(Vec<String>),
}

impl Analysis {
    /// The model in its parts.
    ///
    /// # Errors
    /// [`InferenceError::FitNotKept`] when the analysis was read back from a file.
    pub fn parts(&self) -> Result<ModelParts, InferenceError> {
        let kept = self.kept()?;
        let (experiment, plots) = (&kept.experiment, &kept.plots);
        let cells = &plots.cells;
        let mut cell_of_plot = vec![None; experiment.response.len()];
        let of_present: Vec<usize> = (0..cells.count()).filter(|&cell| cells.present[cell].is_some()).collect();
        plots.index.iter().zip(&plots.cell).for_each(|(&plot, &cell)| cell_of_plot[plot] = Some(of_present[cell]));
        let (_, units) = kept.partitions.split_last().ok_or(InferenceError::FitNotKept)?;
        let in_mixed =
            |name: &str| kept.mixed.as_ref().is_some_and(|mixed| mixed.random.iter().any(|it| it.name == name));
        let random = units.iter().map(|it| PartRandom {
            name: it.name.clone(),
            labels: it.labels.clone(),
            kind: match it.kind {
                Kind::Units => PredictionKind::Units,
                Kind::Interaction => PredictionKind::Interaction,
                Kind::Sample => PredictionKind::Sample,
            },
            in_mixed: in_mixed(&it.name),
        });
        let cell = |index: usize| {
            let treatment = &cells.treatments[index % cells.treatments.len()];
            PartCell {
                place: self.place_of(index / cells.treatments.len()),
                treatment: treatment.label.clone(),
                levels: treatment.levels.clone(),
                plots: cells.present[index].map_or(0, |present| cells.replication[present] as usize),
            }
        };
        Ok(ModelParts {
            cells: (0..cells.count()).map(cell).collect(),
            cell_of_plot,
            fixed_factors: cells.factors.iter().map(|factor| factor.name.clone()).collect(),
            random: random.collect(),
            terms: kept.terms.iter().map(|term| self.part_term(term)).collect(),
        })
    }

    /// The units of a place, by their index.
    fn place_of(&self, environment: usize) -> Vec<(String, usize)> {
        let Ok(kept) = self.kept() else { return Vec::new() };
        let environments = &kept.plots.cells.environments;
        let Some(finest) = environments.terms.iter().max_by_key(|term| term.levels.len()) else { return Vec::new() };
        let Some(position) = kept.plots.cells.environment.iter().position(|&it| it == environment) else {
            return Vec::new();
        };
        let plot = kept.plots.index[position];
        let index = |unit: &String| Some((unit.clone(), crate::model::unit_column(&kept.experiment, unit)?[plot]));
        finest.names.iter().filter_map(index).collect()
    }

    fn part_term(&self, term: &Term) -> PartTerm {
        let factors = self.kept().map(|kept| kept.plots.cells.factors.as_slice()).unwrap_or_default();
        let (compared, of_treatments) = match &term.part {
            Part::Nothing => (Compared::Nothing, 0),
            Part::Controls => (Compared::ControlsAndFactorial, 1),
            Part::Factors(of) => (Compared::Factors(of.iter().map(|&it| factors[it].name.clone()).collect()), of.len()),
        };
        let places = term.names.len().saturating_sub(of_treatments);
        PartTerm { label: term.label.clone(), places: term.names[..places].to_vec(), compared }
    }
}
