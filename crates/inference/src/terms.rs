//! The treatment terms: which comparisons among treatments make up each main effect and interaction.

use crate::plots::Plots;
use guardrow_design::{Factor, Scale, TreatmentStructure};

/// Name of the comparisons among the controls and the factorial as a whole.
pub const CONTROLS_AND_FACTORIAL: &str = "controls and factorial";
/// Name of the table of all treatments, controls included.
pub const ALL_TREATMENTS: &str = "all treatments";

/// A main effect, an interaction, or (without factors) the comparisons among controls and factorial.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Term {
    /// Indices of the factors; none for controls and factorial.
    pub factors: Vec<usize>,
    /// Names of the factors.
    pub names: Vec<String>,
    /// Name for people.
    pub label: String,
}

/// One mean of a table: which treatments are averaged.
#[derive(Debug, Clone)]
pub(crate) struct Margin {
    /// Labels of the levels, in factor order; a control's own label alone.
    pub levels: Vec<String>,
    /// Indices of the treatments that are averaged with equal weight.
    pub members: Vec<usize>,
}

impl Margin {
    /// Weights over all treatments.
    pub fn weights(&self, treatments: usize) -> Vec<f64> {
        let mut weights = vec![0.0; treatments];
        self.members.iter().for_each(|&member| weights[member] = 1.0 / self.members.len() as f64);
        weights
    }

    /// Whether every combination that the mean runs over has a value.
    pub fn is_estimable(&self, plots: &Plots) -> bool {
        self.members.iter().all(|&member| plots.present[member].is_some())
    }
}

/// The comparisons of a term that the plots allow, as rows of weights over all treatments.
#[derive(Debug, Clone)]
pub(crate) struct Comparisons {
    pub rows: Vec<Vec<f64>>,
    /// Degrees of freedom the term would have if every combination had a value.
    pub full_df: usize,
}

/// Controls first, then main effects, then interactions of growing order, each in factor order.
pub(crate) fn terms(structure: &TreatmentStructure) -> Vec<Term> {
    let count = structure.factors.len();
    let mut subsets: Vec<Vec<usize>> =
        (1_usize..1 << count).map(|bits| (0..count).filter(|factor| bits >> factor & 1 == 1).collect()).collect();
    subsets.sort_by(|a: &Vec<usize>, b| a.len().cmp(&b.len()).then(a.cmp(b)));
    let controls = (!structure.controls.is_empty()).then(Vec::new);
    controls.into_iter().chain(subsets).map(|factors| term(structure, factors)).collect()
}

fn term(structure: &TreatmentStructure, factors: Vec<usize>) -> Term {
    let names: Vec<String> = factors.iter().map(|&factor| structure.factors[factor].name.clone()).collect();
    let label = if names.is_empty() { CONTROLS_AND_FACTORIAL.to_owned() } else { names.join(" x ") };
    Term { factors, names, label }
}

impl Term {
    /// Whether the levels of every factor are names, not amounts.
    pub fn is_unstructured(&self, structure: &TreatmentStructure) -> bool {
        self.factors.iter().all(|&factor| structure.factors[factor].scale == Scale::Qualitative)
    }

    /// The means of this term's table, the first factor changing slowest; all treatments for controls and factorial.
    pub fn margins(&self, factors: &[Factor], plots: &Plots) -> Vec<Margin> {
        if self.factors.is_empty() {
            return all_treatments(factors, plots);
        }
        let labels = |combination: &[usize]| {
            let pairs = self.factors.iter().zip(combination);
            pairs.map(|(&factor, &level)| factors[factor].levels[level].label.clone()).collect()
        };
        let sizes: Vec<usize> = self.factors.iter().map(|&factor| factors[factor].levels.len()).collect();
        let mut margins: Vec<Margin> = combinations(&sizes)
            .iter()
            .map(|combination| Margin { levels: labels(combination), members: Vec::new() })
            .collect();
        for (index, treatment) in plots.treatments.iter().enumerate().filter(|(_, it)| !it.levels.is_empty()) {
            let cell = self
                .factors
                .iter()
                .zip(&sizes)
                .fold(0, |cell, (&factor, &size)| cell * size + treatment.levels[factor]);
            margins[cell].members.push(index);
        }
        margins
    }

    /// The comparisons that make up the term, each mean of the term weighted equally over the other factors.
    ///
    /// Where combinations have no value, the comparisons are those among the estimable means of the term's own table
    /// that are free of all lower terms.
    pub fn comparisons(&self, factors: &[Factor], plots: &Plots) -> Comparisons {
        let treatments = plots.treatments.len();
        if self.factors.is_empty() {
            return controls_against_factorial(plots);
        }
        let sizes: Vec<usize> = self.factors.iter().map(|&factor| factors[factor].levels.len()).collect();
        let full_df = sizes.iter().map(|size| size - 1).product();
        let margins = self.margins(factors, plots);
        let estimable: Vec<usize> = (0..margins.len()).filter(|&cell| margins[cell].is_estimable(plots)).collect();
        let over_cells = if estimable.len() == margins.len() {
            interaction_contrasts(&sizes)
        } else {
            interaction_contrasts_of_part(&sizes, &estimable)
        };
        let weights: Vec<Vec<f64>> = margins.iter().map(|margin| margin.weights(treatments)).collect();
        let rows = over_cells.iter().map(|contrast| combined(contrast, &weights, treatments)).collect();
        Comparisons { rows, full_df }
    }
}

fn combined(contrast: &[f64], weights: &[Vec<f64>], treatments: usize) -> Vec<f64> {
    let mut row = vec![0.0; treatments];
    for (&factor, weights) in contrast.iter().zip(weights).filter(|(factor, _)| **factor != 0.0) {
        crate::matrix::add_scaled(&mut row, factor, weights);
    }
    row
}

fn all_treatments(factors: &[Factor], plots: &Plots) -> Vec<Margin> {
    let levels = |treatment: &guardrow_design::Treatment| match treatment.levels.as_slice() {
        [] => vec![treatment.label.clone()],
        levels => levels.iter().zip(factors).map(|(&level, factor)| factor.levels[level].label.clone()).collect(),
    };
    let treatments = plots.treatments.iter().enumerate();
    treatments.map(|(index, treatment)| Margin { levels: levels(treatment), members: vec![index] }).collect()
}

fn controls_against_factorial(plots: &Plots) -> Comparisons {
    let treatments = plots.treatments.len();
    let (factorial, controls): (Vec<usize>, Vec<usize>) =
        (0..treatments).partition(|&index| !plots.treatments[index].levels.is_empty());
    let observed: Vec<usize> = controls.iter().copied().filter(|&index| plots.present[index].is_some()).collect();
    let whole = Margin { levels: Vec::new(), members: factorial };
    let full_df = controls.len();
    if !whole.is_estimable(plots) {
        let among = observed.windows(2).map(|pair| difference(pair[0], pair[1], treatments)).collect();
        return Comparisons { rows: among, full_df };
    }
    let against = |control: usize| {
        let mut row: Vec<f64> = whole.weights(treatments).iter().map(|weight| -weight).collect();
        row[control] = 1.0;
        row
    };
    Comparisons { rows: observed.into_iter().map(against).collect(), full_df }
}

fn difference(plus: usize, minus: usize, treatments: usize) -> Vec<f64> {
    let mut row = vec![0.0; treatments];
    (row[plus], row[minus]) = (1.0, -1.0);
    row
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

/// Orthonormal contrasts of a complete table: products of each factor's Helmert contrasts.
fn interaction_contrasts(sizes: &[usize]) -> Vec<Vec<f64>> {
    let mut rows = vec![vec![1.0]];
    for &size in sizes {
        let helmert = helmert(size);
        rows = rows
            .iter()
            .flat_map(|row| {
                helmert.iter().map(move |next| row.iter().flat_map(|a| next.iter().map(move |b| a * b)).collect())
            })
            .collect();
    }
    rows
}

/// Each level against the mean of those before it, scaled to length one.
fn helmert(size: usize) -> Vec<Vec<f64>> {
    let contrast = |order: usize| {
        let length = ((order * (order + 1)) as f64).sqrt();
        (0..size)
            .map(|level| {
                if level < order {
                    -1.0 / length
                } else if level == order {
                    order as f64 / length
                } else {
                    0.0
                }
            })
            .collect()
    };
    (1..size).map(contrast).collect()
}

/// Orthonormal contrasts over the estimable cells only, free of every lower term.
fn interaction_contrasts_of_part(sizes: &[usize], estimable: &[usize]) -> Vec<Vec<f64>> {
    let cells = combinations(sizes);
    let mut basis: Vec<Vec<f64>> = Vec::new();
    for left_out in 0..sizes.len() {
        for level_set in
            combinations(&sizes.iter().enumerate().map(|(i, &s)| if i == left_out { 1 } else { s }).collect::<Vec<_>>())
        {
            let belongs = |cell: &[usize]| (0..sizes.len()).all(|i| i == left_out || cell[i] == level_set[i]);
            let column: Vec<f64> = estimable.iter().map(|&cell| f64::from(u8::from(belongs(&cells[cell])))).collect();
            extend_orthonormal(&mut basis, column);
        }
    }
    let lower = basis.len();
    for position in 0..estimable.len() {
        let mut unit = vec![0.0; estimable.len()];
        unit[position] = 1.0;
        extend_orthonormal(&mut basis, unit);
    }
    let spread = |row: &Vec<f64>| {
        let mut full = vec![0.0; cells.len()];
        estimable.iter().zip(row).for_each(|(&cell, &value)| full[cell] = value);
        full
    };
    basis[lower..].iter().map(spread).collect()
}

/// Adds the part of `vector` that is orthogonal to `basis`, scaled to length one, unless nothing is left of it.
fn extend_orthonormal(basis: &mut Vec<Vec<f64>>, mut vector: Vec<f64>) {
    let length = |vector: &[f64]| crate::matrix::dot(vector, vector).sqrt();
    let before = length(&vector);
    for _twice_for_rounding in 0..2 {
        for known in basis.iter() {
            let share = crate::matrix::dot(known, &vector);
            crate::matrix::add_scaled(&mut vector, -share, known);
        }
    }
    let after = length(&vector);
    if after > 1e-9 * before.max(1e-300) {
        vector.iter_mut().for_each(|value| *value /= after);
        basis.push(vector);
    }
}
