//! Which comparisons among the cells make up a term.

use crate::matrix::{add_scaled, dot};
use crate::model::{Cells, EnvironmentTerm};
use crate::terms::{Margin, Part, Term, combinations};

/// The comparisons of a term that the plots allow, as rows of weights over all cells.
#[derive(Debug, Clone)]
pub(crate) struct Comparisons {
    /// One row per degree of freedom.
    pub rows: Vec<Vec<f64>>,
    /// Degrees of freedom the term would have if every cell had a value.
    pub full_df: usize,
}

impl Term {
    /// The comparisons that make up the term, each mean of the term weighted equally over everything else.
    ///
    /// Where cells have no value, the comparisons are those among the estimable means of the term's own table that are free of
    /// all lower terms.
    pub fn comparisons(&self, cells: &Cells) -> Comparisons {
        let axes = self.axes(cells);
        let full = axes.iter().map(Axis::contrasts).fold(vec![vec![1.0]], |rows, next| products(&rows, &next));
        let margins = self.compared(cells);
        let estimable: Vec<usize> = (0..margins.len()).filter(|&it| margins[it].is_estimable(cells)).collect();
        let of_part;
        let over_margins = if estimable.len() == margins.len() {
            &full
        } else {
            of_part = contrasts_of_part(&axes, &estimable, margins.len());
            &of_part
        };
        let rows = over_margins.iter().map(|contrast| combined(contrast, &margins, cells.count())).collect();
        Comparisons { rows, full_df: full.len() }
    }

    /// The same comparisons as rows that Satterthwaite's method may start from: for the levels of one factor each, from the second
    /// on, against the mean over plots of the first and all later ones.
    ///
    /// Satterthwaite's degrees of freedom for several comparisons depend on the rows they are worked out from. These are the
    /// rows of a sequential analysis in treatment coding, which lmerTest uses, so that its figures are met; for interactions rows
    /// of length one are taken, and with equal degrees of freedom in all rows the choice does not matter.
    pub fn sequential_comparisons(&self, cells: &Cells) -> Vec<Vec<f64>> {
        let is_simple = self.environment.is_none() && self.factors().len() == 1;
        if !is_simple {
            return self.comparisons(cells).rows;
        }
        let margins: Vec<Margin> = self.compared(cells).into_iter().filter(|it| it.is_estimable(cells)).collect();
        let plots = |margin: &Margin| {
            margin.members.iter().filter_map(|&it| cells.present[it]).map(|it| cells.replication[it]).sum::<f64>()
        };
        let plots: Vec<f64> = margins.iter().map(plots).collect();
        let row = |level: usize| {
            let rest: f64 = plots[0] + plots[level + 1..].iter().sum::<f64>();
            let weight = |other: usize| match other {
                _ if other == level => 1.0,
                _ if other == 0 || other > level => -plots[other] / rest,
                _ => 0.0,
            };
            combined(&(0..plots.len()).map(weight).collect::<Vec<_>>(), &margins, cells.count())
        };
        (1..plots.len()).map(row).collect()
    }

    fn axes<'a>(&self, cells: &'a Cells) -> Vec<Axis<'a>> {
        let place = self.environment.map(|index| {
            let (before, rest) = cells.environments.terms.split_at(index);
            Axis::Environment { term: &rest[0], coarser: before.iter().filter(|it| is_coarser(it, &rest[0])).collect() }
        });
        let sizes = match &self.part {
            Part::Nothing => Vec::new(),
            Part::Controls => vec![1 + cells.treatments.iter().filter(|it| it.levels.is_none()).count()],
            Part::Factors(factors) => factors.iter().map(|&factor| cells.factors[factor].levels.len()).collect(),
        };
        place.into_iter().chain(sizes.into_iter().map(Axis::Levels)).collect()
    }
}

fn is_coarser(coarser: &EnvironmentTerm, finer: &EnvironmentTerm) -> bool {
    coarser.names.len() < finer.names.len() && coarser.names.iter().all(|name| finer.names.contains(name))
}

/// One direction in which the means of a term are arranged.
enum Axis<'a> {
    /// So many levels.
    Levels(usize),
    /// Places or seasons, with the kinds that they stand in.
    Environment { term: &'a EnvironmentTerm, coarser: Vec<&'a EnvironmentTerm> },
}

impl Axis<'_> {
    fn size(&self) -> usize {
        match self {
            Self::Levels(size) => *size,
            Self::Environment { term, .. } => term.levels.len(),
        }
    }

    /// Groups of levels whose means belong to lower terms.
    fn groupings(&self) -> Vec<Vec<usize>> {
        let whole = vec![0; self.size()];
        match self {
            Self::Levels(_) => vec![whole],
            Self::Environment { term, coarser } => {
                let group = |coarser: &&EnvironmentTerm| {
                    let mut group = vec![0; term.levels.len()];
                    term.class.iter().zip(&coarser.class).for_each(|(&own, &outer)| group[own] = outer);
                    group
                };
                std::iter::once(whole).chain(coarser.iter().map(group)).collect()
            }
        }
    }

    /// Orthonormal contrasts free of the lower terms.
    fn contrasts(&self) -> Vec<Vec<f64>> {
        match self {
            Self::Levels(size) => helmert(*size),
            Self::Environment { .. } => {
                let every: Vec<usize> = (0..self.size()).collect();
                contrasts_of_part(std::slice::from_ref(self), &every, self.size())
            }
        }
    }
}

/// Every row of one set times every row of the other.
fn products(rows: &[Vec<f64>], next: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let product = |row: &[f64], next: &[f64]| row.iter().flat_map(|a| next.iter().map(move |b| a * b)).collect();
    rows.iter().flat_map(|row| next.iter().map(move |next| product(row, next))).collect()
}

fn combined(contrast: &[f64], margins: &[Margin], cells: usize) -> Vec<f64> {
    let mut row = vec![0.0; cells];
    for (&factor, margin) in contrast.iter().zip(margins).filter(|(factor, _)| **factor != 0.0) {
        let share = factor / margin.members.len() as f64;
        margin.members.iter().for_each(|&member| row[member] += share);
    }
    row
}

/// Each level against the mean of those before it, scaled to length one.
fn helmert(size: usize) -> Vec<Vec<f64>> {
    let contrast = |order: usize| {
        let length = ((order * (order + 1)) as f64).sqrt();
        let entry = |level: usize| match level.cmp(&order) {
            std::cmp::Ordering::Less => -1.0 / length,
            std::cmp::Ordering::Equal => order as f64 / length,
            std::cmp::Ordering::Greater => 0.0,
        };
        (0..size).map(entry).collect()
    };
    (1..size).map(contrast).collect()
}

/// Orthonormal contrasts over the estimable means only, free of every lower term.
fn contrasts_of_part(axes: &[Axis], estimable: &[usize], means: usize) -> Vec<Vec<f64>> {
    let sizes: Vec<usize> = axes.iter().map(Axis::size).collect();
    let at = combinations(&sizes);
    let mut basis: Vec<Vec<f64>> = Vec::new();
    for (position, axis) in axes.iter().enumerate() {
        for grouping in axis.groupings() {
            let group_of = |mean: usize| {
                let level = |it: usize| if it == position { grouping[at[mean][it]] } else { at[mean][it] };
                (0..axes.len()).map(level).collect::<Vec<_>>()
            };
            let mut groups: Vec<Vec<usize>> = estimable.iter().map(|&mean| group_of(mean)).collect();
            let of_mean = groups.clone();
            groups.sort();
            groups.dedup();
            for group in groups {
                extend_orthonormal(&mut basis, of_mean.iter().map(|it| f64::from(u8::from(*it == group))).collect());
            }
        }
    }
    let lower = basis.len();
    for position in 0..estimable.len() {
        let mut unit = vec![0.0; estimable.len()];
        unit[position] = 1.0;
        extend_orthonormal(&mut basis, unit);
    }
    let spread = |row: &Vec<f64>| {
        let mut full = vec![0.0; means];
        estimable.iter().zip(row).for_each(|(&mean, &value)| full[mean] = value);
        full
    };
    basis[lower..].iter().map(spread).collect()
}

/// Adds the part of `vector` that is orthogonal to `basis`, scaled to length one, unless nothing is left of it.
fn extend_orthonormal(basis: &mut Vec<Vec<f64>>, mut vector: Vec<f64>) {
    let length = |vector: &[f64]| dot(vector, vector).sqrt();
    let before = length(&vector);
    for _twice_for_rounding in 0..2 {
        for known in basis.iter() {
            let share = dot(known, &vector);
            add_scaled(&mut vector, -share, known);
        }
    }
    let after = length(&vector);
    if after > 1e-9 * before.max(1e-300) {
        vector.iter_mut().for_each(|value| *value /= after);
        basis.push(vector);
    }
}
