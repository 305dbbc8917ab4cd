//! The tree of fronts: which unknowns are eliminated together, in one dense block, and where what they leave behind goes.
//!
//! Source: Duff & Reid (1983), ACM Trans. Math. Softw. 9:302-325 (multifrontal elimination; from memory).

use super::elimination::Step;
use std::ops::Range;

/// Zeros that joining a front with the next may bring in, as a share of the joined front.
const ZEROS: f64 = 0.08;
/// Parts of the work that may run beside one another; the same for any number of threads, so that sums are too.
const BRANCHES: usize = 8;
/// Least part of the work that the heaviest front below the root may carry with all below it; a heavier one is joined to the root.
const HEAVY: f64 = 0.25;
/// Most that the work at the root may be of all work, so that joining pays.
const ROOT_SHARE: f64 = 0.5;
/// Numbers that the branches may hold in their own copies of the root.
const ROOT_COPIES: usize = 16 << 20;

/// Unknowns that are eliminated together.
#[derive(Debug, Clone)]
pub(super) struct Front {
    /// Position of the first of them in the order of elimination.
    pub first: usize,
    /// Their number.
    pub pivots: usize,
    /// Where the positions of the other unknowns of this front stand in [`Tree::rows`].
    pub rows: Range<usize>,
    /// The front that takes up what is left; its own index for the root.
    pub parent: usize,
    /// Where its columns of the factor begin.
    pub panel: usize,
    /// Whether other fronts leave something to it.
    pub has_children: bool,
}

impl Front {
    /// Pivots and other unknowns together.
    pub fn size(&self) -> usize {
        self.pivots + self.rows.len()
    }

    /// Where its columns of the factor stand.
    pub fn columns(&self) -> Range<usize> {
        self.panel..self.panel + self.size() * self.pivots
    }
}

/// Fronts that depend on the root only.
#[derive(Debug, Clone)]
pub(super) struct Branch {
    /// Its fronts.
    pub fronts: Range<usize>,
    /// The positions of its unknowns.
    pub positions: Range<usize>,
    /// Its columns of the factor.
    pub columns: Range<usize>,
}

/// All fronts, children before their parents, the root last.
#[derive(Debug)]
pub(super) struct Tree {
    /// The fronts.
    pub fronts: Vec<Front>,
    /// Positions of the rows of every front, rising.
    pub rows: Vec<u32>,
    /// For each of `rows` its place in the parent front.
    pub places: Vec<u32>,
    /// Position of each unknown in the order of elimination.
    pub position: Vec<u32>,
    /// The front of each position.
    pub front_of: Vec<u32>,
    /// All fronts but the root.
    pub branches: Vec<Branch>,
}

impl Tree {
    /// Joins steps whose blocks are nearly the same, and numbers everything.
    pub fn of(steps: Vec<Step>) -> Self {
        let mut joined = join(&steps);
        widen_root(&mut joined, &steps);
        let order = depth_first(&joined);
        let unknowns = steps.iter().map(|step| step.pivots.len()).sum();
        let mut position = vec![0_u32; unknowns];
        let mut front_of = vec![0_u32; unknowns];
        let mut number = vec![0; steps.len()];
        let mut next = 0;
        for (front, &step) in order.iter().enumerate() {
            number[step] = front;
            for &unknown in joined[step].steps.iter().flat_map(|&it| &steps[it].pivots) {
                position[unknown as usize] = next;
                front_of[next as usize] = front as u32;
                next += 1;
            }
        }
        let mut tree = Self {
            fronts: Vec::with_capacity(order.len()),
            rows: Vec::new(),
            places: Vec::new(),
            position,
            front_of,
            branches: Vec::new(),
        };
        let (mut first, mut panel) = (0, 0);
        for &step in &order {
            let node = &joined[step];
            let start = tree.rows.len();
            tree.rows.extend(steps[step].rows.iter().map(|&it| tree.position[it as usize]));
            tree.rows[start..].sort_unstable();
            let parent = node.parent.map_or(order.len() - 1, |it| number[it]);
            let front = Front {
                first,
                pivots: node.pivots,
                rows: start..tree.rows.len(),
                parent,
                panel,
                has_children: !node.children.is_empty(),
            };
            first += front.pivots;
            panel += front.size() * front.pivots;
            tree.fronts.push(front);
        }
        tree.places = (0..tree.fronts.len()).flat_map(|it| tree.places_in_parent(it)).collect();
        tree.branches = tree.cut();
        tree
    }

    /// The last front.
    pub fn root(&self) -> &Front {
        &self.fronts[self.fronts.len() - 1]
    }

    /// Numbers in the factor's columns.
    pub fn factor_size(&self) -> usize {
        self.root().columns().end
    }

    /// Place of a position among the unknowns of a front.
    pub fn place(&self, front: usize, position: u32) -> usize {
        let it = &self.fronts[front];
        let above = (position as usize).wrapping_sub(it.first);
        if above < it.pivots {
            return above;
        }
        let rows = &self.rows[it.rows.clone()];
        it.pivots + rows.binary_search(&position).expect("an unknown meets only those of its front")
    }

    fn places_in_parent(&self, front: usize) -> Vec<u32> {
        let it = &self.fronts[front];
        self.rows[it.rows.clone()].iter().map(|&position| self.place(it.parent, position) as u32).collect()
    }

    /// Divides the fronts below the root into parts of about equal work.
    fn cut(&self) -> Vec<Branch> {
        let last = self.fronts.len() - 1;
        let work = |it: &Front| (it.pivots * it.size() * it.size()) as f64;
        let total: f64 = self.fronts[..last].iter().map(work).sum();
        let copies = (ROOT_COPIES / (self.root().size().pow(2) + 1)).clamp(1, BRANCHES);
        let mut branches = Vec::new();
        let (mut start, mut done) = (0, 0.0);
        for (index, front) in self.fronts[..last].iter().enumerate() {
            done += work(front);
            let share = total * (branches.len() + 1) as f64 / copies as f64;
            if front.parent == last && (done >= share || index + 1 == last) {
                branches.push(Branch {
                    fronts: start..index + 1,
                    positions: self.fronts[start].first..front.first + front.pivots,
                    columns: self.fronts[start].panel..front.columns().end,
                });
                start = index + 1;
            }
        }
        branches
    }
}

/// A step with those joined to it.
struct Node {
    /// The steps whose pivots it has, in order.
    steps: Vec<usize>,
    pivots: usize,
    zeros: usize,
    parent: Option<usize>,
    children: Vec<usize>,
    is_joined: bool,
}

fn join(steps: &[Step]) -> Vec<Node> {
    let node = |(index, step): (usize, &Step)| Node {
        steps: vec![index],
        pivots: step.pivots.len(),
        zeros: 0,
        parent: step.parent,
        children: Vec::new(),
        is_joined: false,
    };
    let mut nodes: Vec<Node> = steps.iter().enumerate().map(node).collect();
    for index in 0..nodes.len() {
        let Some(parent) = nodes[index].parent else { continue };
        let (pivots, own) = (nodes[index].pivots, nodes[parent].pivots);
        let rows = steps[parent].rows.len();
        let zeros = nodes[index].zeros + nodes[parent].zeros + pivots * (own + rows - steps[index].rows.len());
        let both = pivots + own;
        if zeros as f64 > ZEROS * (both * (both + 1) / 2 + both * rows) as f64 {
            nodes[parent].children.push(index);
            continue;
        }
        take_child(&mut nodes, index, parent);
        nodes[parent].zeros = zeros;
    }
    nodes
}

/// Joins fronts that nearly all others hang on to the root, so that the rest falls into parts that can be worked on beside one
/// another.
fn widen_root(nodes: &mut [Node], steps: &[Step]) {
    let root = nodes.len() - 1;
    let mut work = vec![0.0; nodes.len()];
    for index in 0..nodes.len() {
        let node = &nodes[index];
        if !node.is_joined {
            let size = (node.pivots + steps[index].rows.len()) as f64;
            let below: f64 = node.children.iter().map(|&child| work[child]).sum();
            work[index] = node.pivots as f64 * size * size + below;
        }
    }
    loop {
        let heaviest = nodes[root].children.iter().copied().max_by(|&a, &b| work[a].total_cmp(&work[b]));
        let Some(heaviest) = heaviest.filter(|&it| work[it] > HEAVY * work[root]) else { return };
        let pivots = nodes[root].pivots + nodes[heaviest].pivots;
        if (pivots as f64).powi(3) > ROOT_SHARE * work[root] {
            return;
        }
        nodes[root].children.retain(|&it| it != heaviest);
        take_child(nodes, heaviest, root);
    }
}

/// Joins a node to its parent.
fn take_child(nodes: &mut [Node], child: usize, parent: usize) {
    let taken = std::mem::take(&mut nodes[child].steps);
    let children = std::mem::take(&mut nodes[child].children);
    nodes[child].is_joined = true;
    children.iter().for_each(|&it| nodes[it].parent = Some(parent));
    let pivots = nodes[child].pivots;
    let target = &mut nodes[parent];
    target.steps.splice(0..0, taken);
    target.children.extend(children);
    target.pivots += pivots;
}

/// The nodes left, every one after all that leave something to it.
fn depth_first(nodes: &[Node]) -> Vec<usize> {
    let root = nodes.len() - 1;
    let mut order = Vec::new();
    let mut open = vec![(root, false)];
    while let Some((node, is_done)) = open.pop() {
        if is_done {
            order.push(node);
            continue;
        }
        open.push((node, true));
        open.extend(nodes[node].children.iter().rev().map(|&child| (child, false)));
    }
    debug_assert!(nodes.iter().filter(|node| !node.is_joined).count() == order.len());
    order
}
