//! The fixed terms: main effects and interactions of treatments, places and seasons, and the means that each has.

use crate::model::{Cells, EnvironmentTerm};
use guardrow_design::Scale;

/// Name of the comparisons among the controls and the factorial as a whole.
pub const CONTROLS_AND_FACTORIAL: &str = "controls and factorial";
/// Name of the table of all treatments, controls included.
pub const ALL_TREATMENTS: &str = "all treatments";

/// A main effect, an interaction, or the comparisons among controls and factorial, alone or over places and seasons.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Term {
    /// Index of the environments' term that is part of it.
    pub environment: Option<usize>,
    /// What of the treatments is part of it.
    pub part: Part,
    /// Names of the units and factors; none for controls and factorial.
    pub names: Vec<String>,
    /// Name for people.
    pub label: String,
}

/// What of the treatments is part of a term.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Part {
    /// Nothing: places and seasons alone, averaged over all treatments.
    Nothing,
    /// The controls and the factorial as a whole.
    Controls,
    /// Some factors, by index.
    Factors(Vec<usize>),
}

/// One mean of a table: which cells are averaged.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Margin {
    /// Labels of the levels, places first, then factors in their order; a control's own label alone.
    pub levels: Vec<String>,
    /// The cells that are averaged with equal weight.
    pub members: Vec<usize>,
}

impl Margin {
    /// Weights over all cells.
    pub fn weights(&self, cells: usize) -> Vec<f64> {
        let mut weights = vec![0.0; cells];
        self.members.iter().for_each(|&member| weights[member] = 1.0 / self.members.len() as f64);
        weights
    }

    /// Whether every cell that the mean runs over has a value.
    pub fn is_estimable(&self, cells: &Cells) -> bool {
        self.members.iter().all(|&member| cells.present[member].is_some())
    }

    /// Whether it is the mean of controls only.
    pub fn is_control(&self, cells: &Cells) -> bool {
        self.members.iter().all(|&cell| cells.treatments[cell % cells.treatments.len()].levels.is_none())
    }
}

/// All fixed terms: places and seasons, controls, main effects, then interactions of growing order.
pub(crate) fn terms(cells: &Cells) -> Vec<Term> {
    let controls = cells.has_controls().then_some(Part::Controls);
    let factorial = subsets(cells.factors.len()).into_iter().map(Part::Factors);
    let parts: Vec<Part> = controls.into_iter().chain(factorial).collect();
    let places = 0..cells.environments.terms.len();
    let mut all: Vec<Term> = places.clone().map(|place| term(cells, Some(place), Part::Nothing)).collect();
    all.extend(parts.iter().map(|part| term(cells, None, part.clone())));
    all.extend(places.flat_map(|place| parts.iter().map(move |part| term(cells, Some(place), part.clone()))));
    all.sort_by_key(|it| if it.part == Part::Controls && it.environment.is_none() { 1 } else { it.names.len() });
    all
}

/// All subsets of so many things but the empty one, small ones first.
pub(crate) fn subsets(count: usize) -> Vec<Vec<usize>> {
    let mut subsets: Vec<Vec<usize>> =
        (1_usize..1 << count).map(|bits| (0..count).filter(|it| bits >> it & 1 == 1).collect()).collect();
    subsets.sort_by(|a: &Vec<usize>, b| a.len().cmp(&b.len()).then(a.cmp(b)));
    subsets
}

fn term(cells: &Cells, environment: Option<usize>, part: Part) -> Term {
    let place: Option<&EnvironmentTerm> = environment.map(|index| &cells.environments.terms[index]);
    let mut names: Vec<String> = place.map(|it| it.names.clone()).unwrap_or_default();
    let mut words: Vec<String> = place.map(|it| it.label.clone()).into_iter().collect();
    match &part {
        Part::Nothing => {}
        Part::Controls => {
            words.push(CONTROLS_AND_FACTORIAL.to_owned());
            names.extend(place.map(|_| CONTROLS_AND_FACTORIAL.to_owned()));
        }
        Part::Factors(factors) => {
            let factors: Vec<String> = factors.iter().map(|&factor| cells.factors[factor].name.clone()).collect();
            words.extend(factors.clone());
            names.extend(factors);
        }
    }
    Term { environment, part, names, label: words.join(" x ") }
}

impl Term {
    /// Indices of its factors.
    pub fn factors(&self) -> &[usize] {
        if let Part::Factors(factors) = &self.part { factors } else { &[] }
    }

    /// Names of its factors whose levels are amounts; of all factors, when all treatments are compared.
    pub fn amounts(&self, cells: &Cells) -> Vec<String> {
        let concerned = |factor: &usize| self.part == Part::Controls || self.factors().contains(factor);
        let chosen = (0..cells.factors.len()).filter(concerned).map(|factor| &cells.factors[factor]);
        chosen.filter(|it| it.scale != Scale::Qualitative).map(|it| it.name.clone()).collect()
    }

    /// The means of this term's table: places and seasons change slowest, then the first factor.
    pub fn margins(&self, cells: &Cells) -> Vec<Margin> {
        let over_treatments = match &self.part {
            Part::Nothing => vec![(Vec::new(), (0..cells.treatments.len()).collect())],
            Part::Controls => all_treatments(cells),
            Part::Factors(factors) => over_factors(cells, factors),
        };
        self.over_environments(cells, &over_treatments)
    }

    /// The means whose comparisons are the term: as [`Self::margins`], but the factorial as one beside the controls.
    pub fn compared(&self, cells: &Cells) -> Vec<Margin> {
        if self.part != Part::Controls {
            return self.margins(cells);
        }
        let is_control = |index: &usize| cells.treatments[*index].levels.is_none();
        let (controls, factorial): (Vec<usize>, Vec<usize>) = (0..cells.treatments.len()).partition(is_control);
        let groups = std::iter::once(factorial).chain(controls.into_iter().map(|control| vec![control]));
        let groups: Vec<(Vec<String>, Vec<usize>)> = groups.map(|members| (Vec::new(), members)).collect();
        self.over_environments(cells, &groups)
    }

    fn over_environments(&self, cells: &Cells, over_treatments: &[(Vec<String>, Vec<usize>)]) -> Vec<Margin> {
        let treatments = cells.treatments.len();
        let place = self.environment.map(|index| &cells.environments.terms[index]);
        let classes = place.map_or(1, |place| place.levels.len());
        let mut margins = Vec::with_capacity(classes * over_treatments.len());
        for class in 0..classes {
            let belongs = |environment: &usize| place.is_none_or(|place| place.class[*environment] == class);
            let environments: Vec<usize> = (0..cells.environments.count).filter(belongs).collect();
            let of_place = place.map_or(&[][..], |place| &place.levels[class]);
            for (levels, members) in over_treatments {
                let cells_of = |environment: &usize| {
                    members.iter().map(move |it| environment * treatments + it).collect::<Vec<_>>()
                };
                margins.push(Margin {
                    levels: [of_place, levels].concat(),
                    members: environments.iter().flat_map(cells_of).collect(),
                });
            }
        }
        margins
    }
}

fn over_factors(cells: &Cells, factors: &[usize]) -> Vec<(Vec<String>, Vec<usize>)> {
    let sizes: Vec<usize> = factors.iter().map(|&factor| cells.factors[factor].levels.len()).collect();
    let labels = |combination: Vec<usize>| {
        let pairs = factors.iter().zip(combination);
        pairs.map(|(&factor, level)| cells.factors[factor].levels[level].label.clone()).collect()
    };
    let mut margins: Vec<(Vec<String>, Vec<usize>)> =
        combinations(&sizes).into_iter().map(|combination| (labels(combination), Vec::new())).collect();
    for (index, treatment) in cells.treatments.iter().enumerate() {
        if let Some(levels) = &treatment.levels {
            let of = factors.iter().zip(&sizes).fold(0, |of, (&factor, &size)| of * size + levels[factor]);
            margins[of].1.push(index);
        }
    }
    margins
}

fn all_treatments(cells: &Cells) -> Vec<(Vec<String>, Vec<usize>)> {
    let levels = |treatment: &crate::model::FixedTreatment| match treatment.levels.as_deref() {
        None | Some([]) => vec![treatment.label.clone()],
        Some(levels) => {
            levels.iter().zip(&cells.factors).map(|(&level, factor)| factor.levels[level].label.clone()).collect()
        }
    };
    cells.treatments.iter().enumerate().map(|(index, treatment)| (levels(treatment), vec![index])).collect()
}

/// All combinations of levels, the last changing fastest.
pub(crate) fn combinations(sizes: &[usize]) -> Vec<Vec<usize>> {
    let mut found = vec![Vec::new()];
    for &size in sizes {
        found = found
            .iter()
            .flat_map(|head: &Vec<usize>| (0..size).map(move |level| [head.as_slice(), &[level]].concat()))
            .collect();
    }
    found
}
