//! An order of elimination with little fill: approximate minimum degree on the quotient graph.
//!
//! Whoever has the fewest neighbours goes next; its neighbours become neighbours of one another, which is remembered as one
//! element instead of many edges. Unknowns that have become alike are kept as one.
//!
//! Source: Amestoy, Davis & Duff (1996), SIAM J. Matrix Anal. Appl. 17:886-905 (from memory).

/// Unknowns that are eliminated together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Step {
    /// The unknowns.
    pub pivots: Vec<u32>,
    /// Their neighbours at that moment, all eliminated later.
    pub rows: Vec<u32>,
    /// The step that takes up what these leave behind; the last one has none.
    pub parent: Option<usize>,
}

/// Orders the elimination; the unknowns marked as `last` go together at the end.
///
/// - `neighbours`: of each unknown, without itself, each pair in both lists
pub(super) fn order(neighbours: Vec<Vec<u32>>, last: &[bool]) -> Vec<Step> {
    let mut graph = Quotient::of(neighbours, last);
    while let Some(pivot) = graph.next() {
        graph.eliminate(pivot);
    }
    let pivots: Vec<u32> = (0..last.len() as u32).filter(|&it| last[it as usize]).collect();
    graph.steps.push(Step { pivots, rows: Vec::new(), parent: None });
    let mut steps = graph.steps;
    set_parents(&mut steps, last.len());
    steps
}

/// What a step leaves behind goes to the first step that eliminates one of its rows. The step that absorbed its element may come
/// earlier, but waiting for it would string out steps that have nothing to do with one another.
fn set_parents(steps: &mut [Step], unknowns: usize) {
    let mut step_of = vec![0; unknowns];
    for (index, step) in steps.iter().enumerate() {
        step.pivots.iter().for_each(|&pivot| step_of[pivot as usize] = index);
    }
    let root = steps.len() - 1;
    for step in &mut steps[..root] {
        step.parent = Some(step.rows.iter().map(|&row| step_of[row as usize]).min().unwrap_or(root));
    }
}

const NONE: u32 = u32::MAX;

struct Quotient<'a> {
    last: &'a [bool],
    /// Adjacent unknowns that no element covers.
    variables: Vec<Vec<u32>>,
    /// Adjacent elements, by their step.
    elements: Vec<Vec<u32>>,
    /// The unknowns of each element that are still there, as representatives; empty when it was absorbed.
    members: Vec<Vec<u32>>,
    /// Unknowns in each element.
    sizes: Vec<usize>,
    /// Unknowns that each representative stands for; 0 when eliminated or merged.
    weight: Vec<usize>,
    /// The next unknown that the same representative stands for.
    also: Vec<u32>,
    /// The last of them.
    tail: Vec<u32>,
    degree: Vec<usize>,
    /// First unknown of each degree, and their chains.
    head: Vec<u32>,
    after: Vec<u32>,
    before: Vec<u32>,
    least: usize,
    remaining: usize,
    /// Stamps: which unknowns are in the element being made, and how much of other elements lies outside it.
    mark: Vec<u32>,
    stamp: u32,
    outside: Vec<usize>,
    seen: Vec<u32>,
    steps: Vec<Step>,
}

impl<'a> Quotient<'a> {
    fn of(neighbours: Vec<Vec<u32>>, last: &'a [bool]) -> Self {
        let count = last.len();
        let mut graph = Self {
            last,
            elements: vec![Vec::new(); count],
            members: Vec::new(),
            sizes: Vec::new(),
            weight: vec![1; count],
            also: vec![NONE; count],
            tail: (0..count as u32).collect(),
            degree: neighbours.iter().map(Vec::len).collect(),
            variables: neighbours,
            head: vec![NONE; count + 1],
            after: vec![NONE; count],
            before: vec![NONE; count],
            least: 0,
            remaining: count,
            mark: vec![0; count],
            stamp: 0,
            outside: Vec::new(),
            seen: Vec::new(),
            steps: Vec::new(),
        };
        (0..count as u32).rev().filter(|&it| !last[it as usize]).for_each(|it| graph.insert(it));
        graph
    }

    fn insert(&mut self, unknown: u32) {
        let degree = self.degree[unknown as usize];
        let first = self.head[degree];
        self.after[unknown as usize] = first;
        self.before[unknown as usize] = NONE;
        if first != NONE {
            self.before[first as usize] = unknown;
        }
        self.head[degree] = unknown;
        self.least = self.least.min(degree);
    }

    fn remove(&mut self, unknown: u32) {
        let (before, after) = (self.before[unknown as usize], self.after[unknown as usize]);
        if after != NONE {
            self.before[after as usize] = before;
        }
        if before == NONE {
            self.head[self.degree[unknown as usize]] = after;
        } else {
            self.after[before as usize] = after;
        }
    }

    fn next(&mut self) -> Option<u32> {
        while self.least < self.head.len() {
            let first = self.head[self.least];
            if first != NONE {
                self.remove(first);
                return Some(first);
            }
            self.least += 1;
        }
        None
    }

    fn eliminate(&mut self, pivot: u32) {
        let step = self.steps.len() as u32;
        let around = self.neighbours_of(pivot, step);
        around
            .iter()
            .filter(|&&it| !self.last[it as usize])
            .copied()
            .collect::<Vec<_>>()
            .into_iter()
            .for_each(|it| self.remove(it));
        self.measure_outside(&around);
        let mut size: usize = around.iter().map(|&it| self.weight[it as usize]).sum();
        let mut pivots = self.unknowns_of(pivot);
        self.remaining -= self.weight[pivot as usize];
        self.weight[pivot as usize] = 0;
        let mut kept: Vec<(u64, u32)> = Vec::with_capacity(around.len());
        for &unknown in &around {
            let index = unknown as usize;
            match self.updated_neighbours(unknown, step) {
                None if !self.last[index] => {
                    // Its only neighbours are those of the pivot: it may as well go now.
                    pivots.extend(self.unknowns_of(unknown));
                    size -= self.weight[index];
                    self.remaining -= self.weight[index];
                    self.weight[index] = 0;
                }
                found => kept.push((found.unwrap_or(u64::from(step)), unknown)),
            }
        }
        self.merge_alike(&mut kept);
        let mut members = Vec::with_capacity(kept.len());
        let mut rows = Vec::with_capacity(size);
        for &(_, unknown) in &kept {
            let index = unknown as usize;
            let weight = self.weight[index];
            if weight == 0 {
                continue;
            }
            members.push(unknown);
            rows.extend(self.unknowns_of(unknown));
            if !self.last[index] {
                self.degree[index] = (self.degree[index] + size - weight).min(self.remaining - weight);
                self.insert(unknown);
            }
        }
        self.members.push(members);
        self.sizes.push(size);
        self.outside.push(0);
        self.seen.push(0);
        self.steps.push(Step { pivots, rows, parent: None });
    }

    /// The unknowns around the pivot; elements that they came from are absorbed.
    fn neighbours_of(&mut self, pivot: u32, step: u32) -> Vec<u32> {
        self.stamp += 1;
        self.mark[pivot as usize] = self.stamp;
        let mut around = Vec::new();
        let variables = std::mem::take(&mut self.variables[pivot as usize]);
        let elements = std::mem::take(&mut self.elements[pivot as usize]);
        self.gather(&variables, &mut around);
        for element in elements {
            let members = std::mem::take(&mut self.members[element as usize]);
            self.gather(&members, &mut around);
            self.absorb(element, step);
        }
        around
    }

    fn gather(&mut self, from: &[u32], around: &mut Vec<u32>) {
        for &unknown in from {
            let index = unknown as usize;
            if self.weight[index] > 0 && self.mark[index] != self.stamp {
                self.mark[index] = self.stamp;
                around.push(unknown);
            }
        }
    }

    fn absorb(&mut self, element: u32, step: u32) {
        self.steps[element as usize].parent = Some(step as usize);
        self.members[element as usize] = Vec::new();
        self.sizes[element as usize] = 0;
    }

    fn is_absorbed(&self, element: u32) -> bool {
        self.steps[element as usize].parent.is_some()
    }

    /// For each element beside these unknowns how many unknowns it has apart from them.
    fn measure_outside(&mut self, around: &[u32]) {
        for &unknown in around {
            let weight = self.weight[unknown as usize];
            for &element in &self.elements[unknown as usize] {
                let element = element as usize;
                if self.steps[element].parent.is_some() {
                    continue;
                }
                if self.seen[element] != self.stamp {
                    self.seen[element] = self.stamp;
                    self.outside[element] = self.sizes[element];
                }
                self.outside[element] -= weight;
            }
        }
    }

    /// Brings the lists of an unknown beside the new element up to date and its degree apart from that element. Returns a number
    /// that is equal for unknowns with equal lists; nothing when the new element is all that is left.
    fn updated_neighbours(&mut self, unknown: u32, step: u32) -> Option<u64> {
        let index = unknown as usize;
        let mut degree = 0;
        let mut hash = 0_u64;
        let elements = std::mem::take(&mut self.elements[index]);
        let mut kept = Vec::with_capacity(elements.len() + 1);
        for element in elements {
            if self.is_absorbed(element) {
                continue;
            }
            if self.outside[element as usize] == 0 {
                self.absorb(element, step);
                continue;
            }
            degree += self.outside[element as usize];
            hash = hash.wrapping_add(u64::from(element) + 1);
            kept.push(element);
        }
        let mut variables = std::mem::take(&mut self.variables[index]);
        variables.retain(|&it| {
            let stays = self.weight[it as usize] > 0 && self.mark[it as usize] != self.stamp;
            if stays {
                degree += self.weight[it as usize];
                hash = hash.wrapping_add((u64::from(it) + 1) << 20);
            }
            stays
        });
        let is_left = !kept.is_empty() || !variables.is_empty();
        kept.push(step);
        self.elements[index] = kept;
        self.variables[index] = variables;
        self.degree[index] = degree.min(self.degree[index]);
        is_left.then_some(hash)
    }

    /// Unknowns with the same neighbours become one.
    fn merge_alike(&mut self, kept: &mut [(u64, u32)]) {
        kept.sort_unstable();
        let mut start = 0;
        while start < kept.len() {
            let end = start + kept[start..].iter().take_while(|it| it.0 == kept[start].0).count();
            for first in start..end {
                for second in first + 1..end {
                    let (a, b) = (kept[first].1, kept[second].1);
                    if self.weight[a as usize] > 0 && self.weight[b as usize] > 0 && self.are_alike(a, b) {
                        self.merge(a, b);
                    }
                }
            }
            start = end;
        }
    }

    fn are_alike(&mut self, a: u32, b: u32) -> bool {
        let (first, second) = (a as usize, b as usize);
        let same_size = self.elements[first].len() == self.elements[second].len()
            && self.variables[first].len() == self.variables[second].len();
        self.last[first] == self.last[second]
            && same_size
            && self.elements[second].iter().all(|it| self.elements[first].contains(it))
            && self.variables[second].iter().all(|it| self.variables[first].contains(it))
    }

    fn merge(&mut self, into: u32, gone: u32) {
        let (into, gone) = (into as usize, gone as usize);
        self.weight[into] += self.weight[gone];
        self.weight[gone] = 0;
        self.also[self.tail[into] as usize] = gone as u32;
        self.tail[into] = self.tail[gone];
        self.elements[gone] = Vec::new();
        self.variables[gone] = Vec::new();
    }

    fn unknowns_of(&self, representative: u32) -> Vec<u32> {
        let mut unknowns = Vec::with_capacity(self.weight[representative as usize]);
        let mut next = representative;
        while next != NONE {
            unknowns.push(next);
            next = self.also[next as usize];
        }
        unknowns
    }
}
