//! The part of the equations' inverse that lies within the fronts, from the root down.
//!
//! All that the scores and the errors of prediction need lies there; the whole inverse is never formed.
//!
//! Source: Takahashi, Fagan & Chin (1973), 8th PICA Conference; Erisman & Tinney (1975), Comm. ACM 18:177-179 (from memory).

use super::dense::{Block, inverse_of_factored, lower_inverse};
use super::equations::Equations;
use super::factor::Factor;
use super::room::{Room, Rooms};
use super::tree::{Branch, Front, Tree};
use crate::parallel::in_order;

/// A variance of a difference of unknowns that is wanted: the first minus all others.
#[derive(Debug, Clone)]
pub(super) struct Form {
    /// Where it goes.
    pub index: usize,
    /// Places of the unknowns in their front.
    pub places: Vec<u32>,
}

/// What the inverse is asked for.
#[derive(Debug)]
pub(super) struct Inverse {
    /// For each precision the trace of its coefficients times the inverse.
    pub traces: Vec<f64>,
    /// The block of the root's unknowns, both triangles.
    pub root: Vec<f64>,
    /// The variances that were asked for.
    pub forms: Vec<f64>,
}

/// Works out the inverse within the fronts.
///
/// - `precisions`: how many there are
/// - `forms`: what is wanted of each front, or nothing
pub(super) fn inverse_within_fronts(
    equations: &Equations,
    factor: &Factor,
    precisions: usize,
    forms: &[Vec<Form>],
    rooms: &Rooms,
    threads: usize,
) -> Inverse {
    let tree = &equations.tree;
    let root = tree.root();
    let last = tree.fronts.len() - 1;
    let columns = &factor.columns[root.columns()];
    let mut block = vec![0.0; root.pivots * root.pivots];
    rooms.enter(|room| {
        let lower = lower_inverse(&mut room.kernel, columns, root.size(), root.pivots);
        inverse_of_factored(&mut room.kernel, &lower, root.pivots, &mut block, root.pivots);
    });
    let wanted: usize = forms.iter().map(Vec::len).sum();
    let mut found = Inverse { traces: vec![0.0; precisions], root: Vec::new(), forms: vec![0.0; wanted] };
    let mut taken = Taken { equations, forms, traces: vec![0.0; precisions], values: Vec::new() };
    taken.take(last, &block);
    let mut join = |taken: Taken| {
        found.traces.iter_mut().zip(&taken.traces).for_each(|(sum, trace)| *sum += trace);
        taken.values.iter().for_each(|&(index, value)| found.forms[index] = value);
    };
    join(taken);
    let work = |branch: &Branch| {
        let mut taken = Taken { equations, forms, traces: vec![0.0; precisions], values: Vec::new() };
        rooms.enter(|room| OneBranch { tree, factor, root: &block }.descend(branch, &mut taken, room));
        taken
    };
    in_order(threads, tree.branches.iter().collect(), work, join);
    found.root = block;
    found
}

/// What is read off the inverse of each front.
struct Taken<'a> {
    equations: &'a Equations,
    forms: &'a [Vec<Form>],
    traces: Vec<f64>,
    values: Vec<(usize, f64)>,
}

impl Taken<'_> {
    /// `block`: the inverse over all unknowns of a front, both triangles.
    fn take(&mut self, front: usize, block: &[f64]) {
        let it = &self.equations.tree.fronts[front];
        for entry in &self.equations.entries[self.equations.starts[front]..self.equations.starts[front + 1]] {
            let times = if entry.is_twice { 2.0 } else { 1.0 };
            self.traces[entry.precision as usize] += times * entry.coefficient * block[entry.at as usize - it.panel];
        }
        let size = it.size();
        let Some(forms) = self.forms.get(front) else { return };
        for form in forms {
            let mut value = 0.0;
            for (column, &a) in form.places.iter().enumerate() {
                for (row, &b) in form.places.iter().enumerate() {
                    let is_apart = (column == 0) != (row == 0);
                    let covariance = block[a as usize * size + b as usize];
                    value += if is_apart { -covariance } else { covariance };
                }
            }
            self.values.push((form.index, value));
        }
    }
}

struct OneBranch<'a> {
    tree: &'a Tree,
    factor: &'a Factor,
    root: &'a [f64],
}

impl OneBranch<'_> {
    fn descend(&self, branch: &Branch, taken: &mut Taken, room: &mut Room) {
        let last = self.tree.fronts.len() - 1;
        let mut above: Vec<(usize, Vec<f64>)> = Vec::new();
        for index in branch.fronts.clone().rev() {
            let front = &self.tree.fronts[index];
            while above.last().is_some_and(|it| it.0 != front.parent) {
                above.pop().into_iter().for_each(|it| room.keep(it.1));
            }
            let parent = if front.parent == last { self.root } else { above.last().map_or(&[][..], |it| &it.1) };
            let mut block = room.block(front.size() * front.size());
            self.fill(front, parent, &mut block, room);
            taken.take(index, &block);
            if front.has_children {
                above.push((index, block));
            } else {
                room.keep(block);
            }
        }
    }

    fn fill(&self, front: &Front, parent: &[f64], block: &mut [f64], room: &mut Room) {
        let parent_size = self.tree.fronts[front.parent].size();
        let places = &self.tree.places[front.rows.clone()];
        let (size, pivots, rows) = (front.size(), front.pivots, front.rows.len());
        let (own, rest) = block.split_at_mut(pivots * size);
        gather(parent, parent_size, places, &mut rest[..], size, pivots);
        let panel = &self.factor.columns[front.columns()];
        if pivots == 1 {
            one_column(panel, own, rest, size);
            return;
        }
        let lower = lower_inverse(&mut room.kernel, panel, size, pivots);
        let as_right = |values, stride| Block::columns(values, stride).transposed();
        let mut product = room.zeros(rows * pivots);
        let mut corner = room.block(pivots * pivots);
        let below = Block::columns(panel, size).from(pivots, 0);
        room.kernel.add(&mut product, rows, (rows, pivots, pivots), 1.0, below, as_right(&lower, pivots));
        own.fill(0.0);
        let inner = Block::columns(rest, size).from(pivots, 0);
        room.kernel.add(&mut own[pivots..], size, (rows, pivots, rows), -1.0, inner, as_right(&product, rows));
        inverse_of_factored(&mut room.kernel, &lower, pivots, &mut corner, pivots);
        let (left, right) = (as_right(&product, rows), as_right(&own[pivots..], size));
        room.kernel.add(&mut corner, pivots, (pivots, pivots, rows), -1.0, left, right);
        for (column, corner) in own.chunks_exact_mut(size).zip(corner.chunks_exact(pivots)) {
            column[..pivots].copy_from_slice(corner);
        }
        room.keep(product);
        room.keep(corner);
        for (row, column) in rest.chunks_exact_mut(size).enumerate() {
            (0..pivots).for_each(|it| column[it] = own[it * size + pivots + row]);
        }
    }
}

/// Copies the inverse over a front's rows from its parent's.
fn gather(parent: &[f64], parent_size: usize, places: &[u32], rest: &mut [f64], size: usize, pivots: usize) {
    let (Some(&first), Some(&last)) = (places.first(), places.last()) else { return };
    let is_unbroken = (last - first) as usize + 1 == places.len();
    for (column, &place) in rest.chunks_exact_mut(size).zip(places) {
        let source = &parent[place as usize * parent_size..(place as usize + 1) * parent_size];
        let target = &mut column[pivots..];
        if is_unbroken {
            target.copy_from_slice(&source[first as usize..=last as usize]);
        } else {
            target.iter_mut().zip(places).for_each(|(value, &row)| *value = source[row as usize]);
        }
    }
}

/// A front of one pivot, by plain loops.
fn one_column(panel: &[f64], own: &mut [f64], rest: &mut [f64], size: usize) {
    let pivot = panel[0];
    let (first, below) = own.split_at_mut(1);
    below.fill(0.0);
    for (column, known) in rest.chunks_exact(size).zip(&panel[1..]) {
        let factor = known / pivot;
        below.iter_mut().zip(&column[1..]).for_each(|(value, inner)| *value -= factor * inner);
    }
    let known: f64 = below.iter().zip(&panel[1..]).map(|(value, known)| value * known / pivot).sum();
    first[0] = 1.0 / (pivot * pivot) - known;
    rest.chunks_exact_mut(size).zip(below.iter()).for_each(|(column, value)| column[0] = *value);
}
