//! Cholesky factor of the equations, front by front.
//!
//! What a front leaves behind is added to its parent at once; what reaches the root is summed by branch and then over the branches
//! in their order, so that the sums do not depend on the number of threads.

use super::dense::{Block, Kernel, factor_columns};
use super::equations::Equations;
use super::room::{Room, Rooms};
use super::tree::{Branch, Front, Tree};
use crate::parallel::{in_order, parts};

/// The factor's columns.
#[derive(Debug)]
pub(super) struct Factor {
    /// Column by column, front by front; see [`Tree`].
    pub columns: Vec<f64>,
    /// Logarithm of the determinant of the equations.
    pub log_determinant: f64,
}

/// An unknown that follows from others: its position in the order of elimination.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Dependent {
    pub position: usize,
}

impl Factor {
    /// Factors the equations with these precisions.
    pub fn of(equations: &Equations, precisions: &[f64], rooms: &Rooms, threads: usize) -> Result<Self, Dependent> {
        let tree = &equations.tree;
        let root = tree.root();
        let mut columns = rooms.enter(|room| room.zeros(tree.factor_size()));
        let (of_branches, of_root) = parts(&mut columns, tree.branches.iter().map(|it| it.columns.end));
        let tasks: Vec<(&Branch, &mut [f64])> = tree.branches.iter().zip(of_branches).collect();
        let work = |(branch, columns): (&Branch, &mut [f64])| {
            rooms.enter(|room| {
                let mut copy = room.zeros(root.size() * root.size());
                let found = OneBranch { equations, precisions, branch }.factor(columns, &mut copy, room);
                (found, copy)
            })
        };
        let mut log_determinant = 0.0;
        let mut failed = None;
        let last = tree.fronts.len() - 1;
        assemble(equations, precisions, last, of_root, root.panel);
        in_order(threads, tasks, work, |(found, copy)| {
            match found {
                Ok(found) => {
                    log_determinant += found;
                    add_lower(of_root, &copy, root.size());
                }
                Err(dependent) => failed = failed.or(Some(dependent)),
            }
            rooms.enter(|room| room.keep(copy));
        });
        if let Some(dependent) = failed {
            return Err(dependent);
        }
        let found = rooms.enter(|room| factor_columns(&mut room.kernel, of_root, root.size(), root.pivots));
        log_determinant += found.map_err(|it| Dependent { position: root.first + it.column })?;
        Ok(Self { columns, log_determinant })
    }
}

/// Adds a lower triangle to another.
fn add_lower(target: &mut [f64], source: &[f64], size: usize) {
    for (index, (target, source)) in target.chunks_exact_mut(size).zip(source.chunks_exact(size)).enumerate() {
        target[index..].iter_mut().zip(&source[index..]).for_each(|(value, added)| *value += added);
    }
}

/// Adds the coefficients of a front to its columns; `columns` begin at `offset` of the whole.
fn assemble(equations: &Equations, precisions: &[f64], front: usize, columns: &mut [f64], offset: usize) {
    for entry in &equations.entries[equations.starts[front]..equations.starts[front + 1]] {
        columns[entry.at as usize - offset] += entry.coefficient * precisions[entry.precision as usize];
    }
}

struct OneBranch<'a> {
    equations: &'a Equations,
    precisions: &'a [f64],
    branch: &'a Branch,
}

/// What the rows of a front that is not yet factored have received.
struct Open {
    front: usize,
    /// Rows x rows, the lower triangle.
    rest: Vec<f64>,
}

impl OneBranch<'_> {
    /// Factors the fronts of a branch; what they leave to the root is added to `root`. Returns the logarithm of the determinant.
    fn factor(&self, columns: &mut [f64], root: &mut [f64], room: &mut Room) -> Result<f64, Dependent> {
        let tree = &self.equations.tree;
        let offset = self.branch.columns.start;
        let last = tree.fronts.len() - 1;
        let mut open: Vec<Open> = Vec::new();
        let mut log_determinant = 0.0;
        for index in self.branch.fronts.clone() {
            let front = &tree.fronts[index];
            assemble(self.equations, self.precisions, index, columns, offset);
            let received = open.pop_if(|it| it.front == index).map(|it| it.rest);
            let own = front.columns();
            let (before, after) = columns.split_at_mut(own.end - offset);
            let panel = &mut before[own.start - offset..];
            let found = factor_columns(&mut room.kernel, panel, front.size(), front.pivots);
            log_determinant += found.map_err(|it| Dependent { position: front.first + it.column })?;
            let parent = &tree.fronts[front.parent];
            let mut target = if front.parent == last {
                Target { panel: root, rest: &mut [], pivots: parent.pivots, size: parent.size() }
            } else {
                if open.last().is_none_or(|it| it.front != front.parent) {
                    open.push(Open { front: front.parent, rest: room.zeros(parent.rows.len().pow(2)) });
                }
                let start = parent.panel - own.end;
                let panel = &mut after[start..start + parent.columns().len()];
                let rest = open.last_mut().map_or(&mut [][..], |it| it.rest.as_mut_slice());
                Target { panel, rest, pivots: parent.pivots, size: parent.size() }
            };
            let places = &tree.places[front.rows.clone()];
            match received {
                None if front.pivots == 1 => target.take_one(&panel[1..], places),
                received => {
                    let rows = front.rows.len();
                    let mut rest = received.unwrap_or_else(|| room.zeros(rows * rows));
                    leave(&mut room.kernel, front, panel, &mut rest);
                    target.take(&rest, places);
                    room.keep(rest);
                }
            }
        }
        Ok(log_determinant)
    }
}

/// Takes the factored columns out of what is left.
fn leave(kernel: &mut Kernel, front: &Front, panel: &[f64], rest: &mut [f64]) {
    let (size, rows) = (front.size(), front.rows.len());
    if front.pivots == 1 {
        let column = &panel[1..];
        for (index, &factor) in column.iter().enumerate() {
            let target = &mut rest[index * rows + index..(index + 1) * rows];
            target.iter_mut().zip(&column[index..]).for_each(|(value, known)| *value -= factor * known);
        }
    } else {
        let below = Block::columns(panel, size).from(front.pivots, 0);
        kernel.add_lower(rest, rows, (rows, front.pivots), -1.0, below, below);
    }
}

/// A front that receives: its columns, and the lower triangle of its rows.
struct Target<'a> {
    panel: &'a mut [f64],
    rest: &'a mut [f64],
    pivots: usize,
    size: usize,
}

impl Target<'_> {
    /// One column, and the row that its places begin at.
    fn column(&mut self, place: usize) -> (&mut [f64], usize) {
        if place < self.pivots {
            return (&mut self.panel[place * self.size..(place + 1) * self.size], 0);
        }
        let rows = self.size - self.pivots;
        let column = place - self.pivots;
        (&mut self.rest[column * rows..(column + 1) * rows], self.pivots)
    }

    /// Takes `- column column'`.
    fn take_one(&mut self, column: &[f64], places: &[u32]) {
        for (index, (&factor, &place)) in column.iter().zip(places).enumerate() {
            let (target, top) = self.column(place as usize);
            for (known, &row) in column[index..].iter().zip(&places[index..]) {
                target[row as usize - top] -= factor * known;
            }
        }
    }

    /// Takes a lower triangle.
    fn take(&mut self, block: &[f64], places: &[u32]) {
        let rows = places.len();
        for (index, &place) in places.iter().enumerate() {
            let (target, top) = self.column(place as usize);
            let source = &block[index * rows + index..(index + 1) * rows];
            let places = &places[index..];
            let span = (places[places.len() - 1] - place) as usize;
            if span + 1 == source.len() {
                let start = place as usize - top;
                target[start..=start + span].iter_mut().zip(source).for_each(|(value, added)| *value += added);
            } else {
                source.iter().zip(places).for_each(|(added, &row)| target[row as usize - top] += added);
            }
        }
    }
}

/// Solves with the factor for several right sides at once, forwards: `L^-1 right`, by positions.
pub(super) fn solve_lower<const N: usize>(tree: &Tree, factor: &Factor, right: &mut [[f64; N]], threads: usize) {
    let root = tree.root();
    let (of_branches, of_root) = parts(right, tree.branches.iter().map(|it| it.positions.end));
    let tasks: Vec<(&Branch, &mut [[f64; N]])> = tree.branches.iter().zip(of_branches).collect();
    let work = |(branch, right): (&Branch, &mut [[f64; N]])| {
        let mut left_to_root = vec![[0.0; N]; root.pivots];
        for front in &tree.fronts[branch.fronts.clone()] {
            solve_front(tree, factor, front, right, branch.positions.start, &mut left_to_root, root.first);
        }
        left_to_root
    };
    in_order(threads, tasks, work, |left_to_root| {
        for (value, added) in of_root.iter_mut().flatten().zip(left_to_root.iter().flatten()) {
            *value += added;
        }
    });
    solve_front(tree, factor, root, of_root, root.first, &mut [], usize::MAX);
}

fn solve_front<const N: usize>(
    tree: &Tree,
    factor: &Factor,
    front: &Front,
    right: &mut [[f64; N]],
    offset: usize,
    root: &mut [[f64; N]],
    root_first: usize,
) {
    let size = front.size();
    let panel = &factor.columns[front.columns()];
    let (own, after) = right[front.first - offset..].split_at_mut(front.pivots);
    let after_first = front.first + front.pivots;
    for (index, column) in panel.chunks_exact(size).enumerate() {
        let (current, later) = own[index..].split_first_mut().expect("a front has a column for each pivot");
        current.iter_mut().for_each(|value| *value /= column[index]);
        let (within, below) = column[index + 1..].split_at(front.pivots - index - 1);
        for (target, known) in later.iter_mut().zip(within) {
            (0..N).for_each(|it| target[it] -= known * current[it]);
        }
        for (&row, known) in tree.rows[front.rows.clone()].iter().zip(below) {
            let row = row as usize;
            let target = if row >= root_first { &mut root[row - root_first] } else { &mut after[row - after_first] };
            (0..N).for_each(|it| target[it] -= known * current[it]);
        }
    }
}

/// Solves backwards: `L^-T right`.
pub(super) fn solve_upper(tree: &Tree, factor: &Factor, right: &mut [f64]) {
    for front in tree.fronts.iter().rev() {
        let size = front.size();
        let rows = &tree.rows[front.rows.clone()];
        let panel = &factor.columns[front.columns()];
        for (index, column) in panel.chunks_exact(size).enumerate().rev() {
            let (within, below) = column[index + 1..].split_at(front.pivots - index - 1);
            let position = front.first + index;
            let near: f64 = within.iter().zip(&right[position + 1..]).map(|(a, b)| a * b).sum();
            let far: f64 = below.iter().zip(rows).map(|(a, &row)| a * right[row as usize]).sum();
            right[position] = (right[position] - near - far) / column[index];
        }
    }
}
