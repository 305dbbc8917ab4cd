//! The strata that random terms make, and whether they are orthogonal to one another.
//!
//! Source: Nelder (1965), Proc. R. Soc. A 283:147-178; Tjur (1984), Int. Statist. Rev. 52:33-81; Bailey (2008), Design of
//! Comparative Experiments, chapter 10 (all from memory): divisions that are closed under suprema and orthogonal in pairs cut
//! the space of the plots into one stratum for each.

use crate::matrix::add_scaled;
use crate::model::{Division, Partition};

/// Where a stratum comes from.
#[derive(Debug, Clone)]
pub(crate) struct Node {
    /// Name for people.
    pub name: String,
    /// The division that it belongs to.
    pub division: Division,
    /// Index of the random term; none for a stratum that has no effects of its own but stands between others, such as entries
    /// beside entries at sites and entries in years.
    pub term: Option<usize>,
    /// Plots in each class.
    pub size: f64,
    /// Indices of the strata that hold this one.
    pub coarser: Vec<usize>,
    /// Its dimension.
    pub rank: f64,
}

/// The strata, coarser ones first, or nothing when the random terms are not orthogonal to one another.
pub(crate) fn strata(partitions: &[Partition]) -> Option<Vec<Node>> {
    if partitions.iter().any(|it| it.has_outside) {
        return None;
    }
    let mut nodes: Vec<Node> = Vec::new();
    for (term, partition) in partitions.iter().enumerate() {
        nodes.push(node(partition.name.clone(), partition.division.clone(), Some(term))?);
    }
    close_under_suprema(&mut nodes, partitions)?;
    for index in 0..nodes.len() {
        let coarser =
            (0..index).filter(|&other| nodes[other].division.holds(&nodes[index].division)).collect::<Vec<_>>();
        let taken: f64 = coarser.iter().map(|&other| nodes[other].rank).sum();
        nodes[index].rank = nodes[index].division.classes as f64 - 1.0 - taken;
        nodes[index].coarser = coarser;
    }
    let all_have_room = nodes.iter().all(|node| node.rank > 0.5);
    (all_have_room && pairs_are_orthogonal(&nodes)).then_some(nodes)
}

fn node(name: String, division: Division, term: Option<usize>) -> Option<Node> {
    let size = division.uniform_size()?;
    Some(Node { name, division, term, size, coarser: Vec::new(), rank: 0.0 })
}

fn close_under_suprema(nodes: &mut Vec<Node>, partitions: &[Partition]) -> Option<()> {
    let mut second = 1;
    while second < nodes.len() {
        for first in 0..second {
            let (a, b) = (&nodes[first].division, &nodes[second].division);
            if a.holds(b) || b.holds(a) {
                continue;
            }
            let both = a.supremum(b);
            if both.classes > 1 && !nodes.iter().any(|node| node.division.is_same_as(&both)) {
                let found = node(name_of(&both, partitions), both, None)?;
                // before everything that it holds, so that coarser strata stay first
                let place = nodes.iter().position(|node| found.division.holds(&node.division)).unwrap_or(nodes.len());
                nodes.insert(place, found);
                second = 0;
                break;
            }
        }
        second += 1;
    }
    Some(())
}

/// The labels that all finer terms share name what stands between them.
fn name_of(division: &Division, partitions: &[Partition]) -> String {
    let mut finer =
        partitions.iter().filter(|it| division.holds(&it.division) && it.division.classes < it.division.class.len());
    let mut labels = finer.next().map(|it| it.labels.clone()).unwrap_or_default();
    finer.for_each(|it| labels.retain(|label| it.labels.contains(label)));
    if labels.is_empty() { "between units".to_owned() } else { labels.join(" x ") }
}

/// Two divisions that cross are orthogonal when they meet equally often within whatever holds both.
fn pairs_are_orthogonal(nodes: &[Node]) -> bool {
    let crossed = |a: usize, b: usize| !nodes[b].coarser.contains(&a);
    let pairs = (0..nodes.len()).flat_map(|b| (0..b).map(move |a| (a, b)));
    pairs.filter(|&(a, b)| crossed(a, b)).all(|(a, b)| {
        let holders = nodes[a].coarser.iter().filter(|other| nodes[b].coarser.contains(other));
        let units = holders.map(|&other| nodes[other].division.classes).max().unwrap_or(1);
        meet_equally(&nodes[a].division, &nodes[b].division, units)
    })
}

fn meet_equally(a: &Division, b: &Division, holders: usize) -> bool {
    let met = a.refined_by(b.class.iter().copied());
    // Within one holder a/h classes meet b/h classes; each meeting then has the same number of plots.
    let meetings = a.classes * b.classes / holders;
    met.classes == meetings && met.uniform_size().is_some()
}

/// Each stratum's part of a column over the plots.
pub(crate) fn parts_of(values: &[f64], nodes: &[Node]) -> Vec<Vec<f64>> {
    let mut parts: Vec<Vec<f64>> = Vec::with_capacity(nodes.len());
    for node in nodes {
        let is_plots = node.division.classes == values.len();
        let mut part = if is_plots { values.to_vec() } else { node.division.averaged(values) };
        node.coarser.iter().for_each(|&other| add_scaled(&mut part, -1.0, &parts[other]));
        parts.push(part);
    }
    parts
}
