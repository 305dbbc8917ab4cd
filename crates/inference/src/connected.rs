//! Whether all treatments are compared with one another within units.

use crate::Notice;
use crate::model::{Kind, Partition};
use crate::plots::Plots;

/// A notice for each kind of unit, not inside another, within which groups of treatments never meet.
///
/// Groups that are the levels of a factor are no fault: that factor was given to whole units on purpose.
pub(crate) fn disconnected(plots: &Plots, partitions: &[Partition]) -> Vec<Notice> {
    let outer = &partitions[..partitions.len() - 1];
    let stands_in = |unit: &Partition| outer.iter().any(|it| it.name != unit.name && it.division.holds(&unit.division));
    let outermost = outer.iter().filter(|unit| unit.kind == Kind::Units && !stands_in(unit));
    outermost.filter_map(|unit| notice(plots, unit)).collect()
}

fn notice(plots: &Plots, unit: &Partition) -> Option<Notice> {
    let cells = crate::model::Division { class: plots.cell.clone(), classes: plots.cells.replication.len() };
    let joined = cells.supremum(&unit.division);
    if joined.classes == 1 {
        return None;
    }
    let mut groups: Vec<Vec<usize>> = vec![Vec::new(); joined.classes];
    for cell in 0..plots.cells.count() {
        let Some(present) = plots.cells.present[cell] else { continue };
        let plot = plots.cell.iter().position(|&it| it == present)?;
        groups[joined.class[plot]].push(cell);
    }
    if are_levels(plots, &groups) {
        return None;
    }
    let name = |group: Vec<usize>| group.into_iter().map(|cell| plots.cells.label(cell)).collect();
    Some(Notice::Disconnected { stratum: unit.name.clone(), groups: groups.into_iter().map(name).collect() })
}

/// Whether the groups are told apart by the levels of one factor, or by place and season.
fn are_levels(plots: &Plots, groups: &[Vec<usize>]) -> bool {
    let treatments = plots.cells.treatments.len();
    let level =
        |cell: usize, factor: usize| plots.cells.treatments[cell % treatments].levels.as_ref().map(|it| it[factor]);
    let tells_apart = |label: &dyn Fn(usize) -> Option<usize>| {
        let labels: Vec<Vec<Option<usize>>> =
            groups.iter().map(|group| group.iter().map(|&cell| label(cell)).collect()).collect();
        let own =
            |of: &[Option<usize>], others: &[Option<usize>]| of.iter().all(|it| it.is_some() && !others.contains(it));
        labels
            .iter()
            .enumerate()
            .all(|(index, of)| labels.iter().enumerate().all(|(other, others)| index == other || own(of, others)))
    };
    let by_factor = (0..plots.cells.factors.len()).any(|factor| tells_apart(&|cell| level(cell, factor)));
    // One factor alone is told apart by any grouping: only with several does a level mean that a factor was given to units.
    (by_factor && plots.cells.factors.len() > 1) || tells_apart(&|cell| Some(cell / treatments))
}
