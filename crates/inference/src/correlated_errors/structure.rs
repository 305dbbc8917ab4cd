//! The parts put together: covariance of each block of observations and its derivatives.
//!
//! Every parameter is worked with in its working coordinate: a variance as it is (so that it can be zero), the variances of groups
//! that a unit joins as logarithms, a correlation as in [`super::axis_table`].

use super::axis_table::{AxisTable, Positions};
use super::part::{Part, Unit};
use crate::matrix::Matrix;

/// What a working coordinate stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Variance,
    LogVariance,
    /// The correlation along an axis of its part, by its index.
    Correlation(usize),
}

/// One working coordinate.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Parameter {
    pub part: usize,
    pub kind: Kind,
}

/// A part with its units sorted out.
#[derive(Debug, Clone)]
pub(crate) struct SortedPart {
    pub axes: Vec<Positions>,
    /// Axes with a correlation.
    correlated: Vec<usize>,
    group: Option<Vec<usize>>,
    is_logarithmic: bool,
    /// Where its coordinates start, and how many of them are variances.
    pub first: usize,
    pub variances: usize,
    /// For each block its units, each as places within the block.
    units: Vec<Vec<Vec<usize>>>,
}

/// All parts over all observations, in blocks that have nothing to do with one another.
#[derive(Debug, Clone)]
pub(crate) struct Structure {
    pub parts: Vec<SortedPart>,
    pub parameters: Vec<Parameter>,
    /// The observations of each block.
    pub blocks: Vec<Vec<usize>>,
}

/// The structure at given working coordinates.
pub(crate) struct At<'a> {
    structure: &'a Structure,
    coordinates: &'a [f64],
    tables: Vec<Vec<AxisTable>>,
}

impl Structure {
    /// Sorts parts that were checked before.
    pub fn of(parts: &[Part], count: usize) -> Self {
        let classes: Vec<Option<Vec<usize>>> = parts.iter().map(|part| classes(&part.unit, count)).collect();
        let blocks = blocks(&classes, count);
        let mut parameters = Vec::new();
        let mut sorted = Vec::new();
        for (index, (part, class)) in parts.iter().zip(&classes).enumerate() {
            let axes: Vec<Positions> = part.axes.iter().map(Positions::of).collect();
            let correlated: Vec<usize> = (0..axes.len()).filter(|&axis| axes[axis].shape.is_correlation()).collect();
            let variances = part.groups.as_ref().map_or(1, |groups| groups.labels.len());
            let is_logarithmic = part.groups.is_some() && class.is_some();
            let first = parameters.len();
            let kind = if is_logarithmic { Kind::LogVariance } else { Kind::Variance };
            parameters.extend((0..variances).map(|_| Parameter { part: index, kind }));
            parameters.extend(correlated.iter().map(|&it| Parameter { part: index, kind: Kind::Correlation(it) }));
            let units = blocks.iter().map(|members| units_of(members, class.as_deref())).collect();
            let group = part.groups.as_ref().map(|groups| groups.group.clone());
            sorted.push(SortedPart { axes, correlated, group, is_logarithmic, first, variances, units });
        }
        Self { parts: sorted, parameters, blocks }
    }

    /// Whether a coordinate belongs to a part whose variance is zero.
    pub fn is_absent(&self, coordinate: usize, coordinates: &[f64]) -> bool {
        let part = &self.parts[self.parameters[coordinate].part];
        !part.is_logarithmic && coordinates[part.first..part.first + part.variances].iter().all(|&it| it == 0.0)
    }

    pub fn at<'a>(&'a self, coordinates: &'a [f64]) -> At<'a> {
        let tables = self.parts.iter().map(|part| {
            let mut next = part.first + part.variances;
            let table = |axis: &Positions| {
                let is_correlation = axis.shape.is_correlation();
                next += usize::from(is_correlation);
                axis.table(if is_correlation { coordinates[next - 1] } else { 0.0 })
            };
            part.axes.iter().map(table).collect()
        });
        At { structure: self, coordinates, tables: tables.collect() }
    }
}

/// The class of each observation; none when each is its own.
fn classes(unit: &Unit, count: usize) -> Option<Vec<usize>> {
    match unit {
        Unit::Each => None,
        Unit::All => Some(vec![0; count]),
        Unit::Classes(class) => Some(class.clone()),
    }
}

/// Observations that are joined by a unit of any part, directly or through others, in the order of their first member.
fn blocks(classes: &[Option<Vec<usize>>], count: usize) -> Vec<Vec<usize>> {
    let mut leader: Vec<usize> = (0..count).collect();
    fn find(leader: &mut [usize], mut at: usize) -> usize {
        while leader[at] != at {
            leader[at] = leader[leader[at]];
            at = leader[at];
        }
        at
    }
    for class in classes.iter().flatten() {
        let mut holder = std::collections::HashMap::new();
        for (observation, class) in class.iter().enumerate() {
            let other = *holder.entry(class).or_insert(observation);
            let (a, b) = (find(&mut leader, other), find(&mut leader, observation));
            leader[a.max(b)] = a.min(b);
        }
    }
    let mut place = vec![usize::MAX; count];
    let mut blocks: Vec<Vec<usize>> = Vec::new();
    for observation in 0..count {
        let head = find(&mut leader, observation);
        if place[head] == usize::MAX {
            place[head] = blocks.len();
            blocks.push(Vec::new());
        }
        blocks[place[head]].push(observation);
    }
    blocks
}

fn units_of(members: &[usize], class: Option<&[usize]>) -> Vec<Vec<usize>> {
    let Some(class) = class else { return (0..members.len()).map(|place| vec![place]).collect() };
    let mut known = std::collections::HashMap::new();
    let mut units: Vec<Vec<usize>> = Vec::new();
    for (place, &member) in members.iter().enumerate() {
        let unit = *known.entry(class[member]).or_insert(units.len());
        if unit == units.len() {
            units.push(Vec::new());
        }
        units[unit].push(place);
    }
    units
}

/// Covariance of a pair of observations by one part, with its derivatives by the part's coordinates.
struct Pair {
    first: Vec<f64>,
    /// Row by row; left empty unless asked for.
    second: Vec<f64>,
}

impl At<'_> {
    /// Covariance of the observations of a block.
    pub fn block(&self, block: usize) -> Matrix {
        let size = self.structure.blocks[block].len();
        let mut matrix = Matrix::zeros(size, size);
        for (index, part) in self.structure.parts.iter().enumerate() {
            for unit in &part.units[block] {
                self.over_pairs(block, unit, |places, members| {
                    let value = self.covariance(index, members);
                    matrix[(places.0, places.1)] += value;
                    if places.0 != places.1 {
                        matrix[(places.1, places.0)] += value;
                    }
                });
            }
        }
        matrix
    }

    /// Adds to `images[k]` the derivative by coordinate `k` times `vector`, and gives the traces of the derivatives times `weights`;
    /// all over one block.
    pub fn derivatives(&self, block: usize, weights: &Matrix, vector: &[f64], images: &mut [Vec<f64>]) -> Vec<f64> {
        let mut traces = vec![0.0; self.coordinates.len()];
        let mut pair = Pair { first: Vec::new(), second: Vec::new() };
        for (index, part) in self.structure.parts.iter().enumerate() {
            for unit in &part.units[block] {
                self.over_pairs(block, unit, |(one, other), members| {
                    self.pair(index, members, false, &mut pair);
                    let weight = if one == other { weights[(one, one)] } else { 2.0 * weights[(one, other)] };
                    for (k, derivative) in pair.first.iter().enumerate().map(|(k, it)| (part.first + k, it)) {
                        traces[k] += weight * derivative;
                        images[k][one] += derivative * vector[other];
                        if one != other {
                            images[k][other] += derivative * vector[one];
                        }
                    }
                });
            }
        }
        traces
    }

    /// The derivatives over one block as matrices, by coordinate.
    pub fn derivative_matrices(&self, block: usize) -> Vec<Matrix> {
        let size = self.structure.blocks[block].len();
        let mut matrices = vec![Matrix::zeros(size, size); self.coordinates.len()];
        let mut pair = Pair { first: Vec::new(), second: Vec::new() };
        for (index, part) in self.structure.parts.iter().enumerate() {
            for unit in &part.units[block] {
                self.over_pairs(block, unit, |(one, other), members| {
                    self.pair(index, members, false, &mut pair);
                    for (matrix, &derivative) in matrices[part.first..].iter_mut().zip(&pair.first) {
                        (matrix[(one, other)], matrix[(other, one)]) = (derivative, derivative);
                    }
                });
            }
        }
        matrices
    }

    /// For each pair of coordinates the trace of the second derivative times `weights`, over one block.
    pub fn second_traces(&self, block: usize, weights: &Matrix) -> Matrix {
        let count = self.coordinates.len();
        let mut traces = Matrix::zeros(count, count);
        self.over_second(block, |(one, other), k, l, derivative| {
            let weight = if one == other { weights[(one, one)] } else { 2.0 * weights[(one, other)] };
            traces[(k, l)] += weight * derivative;
        });
        traces
    }

    /// The sum of `weights[(k, l)]` times the second derivative by `k` and `l`, over one block.
    pub fn second_sum(&self, block: usize, weights: &Matrix) -> Matrix {
        let size = self.structure.blocks[block].len();
        let mut sum = Matrix::zeros(size, size);
        self.over_second(block, |(one, other), k, l, derivative| {
            sum[(one, other)] += weights[(k, l)] * derivative;
            if one != other {
                sum[(other, one)] = sum[(one, other)];
            }
        });
        sum
    }

    /// The covariance by one part times a vector over the observations of a block.
    pub fn part_times(&self, part: usize, block: usize, vector: &[f64]) -> Vec<f64> {
        let mut image = vec![0.0; vector.len()];
        for unit in &self.structure.parts[part].units[block] {
            self.over_pairs(block, unit, |(one, other), members| {
                let value = self.covariance(part, members);
                image[one] += value * vector[other];
                if one != other {
                    image[other] += value * vector[one];
                }
            });
        }
        image
    }

    /// Covariance of two observations of one unit by one part.
    pub fn covariance(&self, part: usize, members: (usize, usize)) -> f64 {
        self.scale(part, members) * self.shape(part, members)
    }

    /// The factors of the axes of a part but one.
    pub fn other_factors(&self, part: usize, (one, other): (usize, usize), but: usize) -> f64 {
        let axes = self.structure.parts[part].axes.iter().zip(&self.tables[part]).enumerate();
        let others = axes.filter(|(index, _)| *index != but).map(|(_, it)| it);
        others.map(|(axis, table)| table.value[(axis.index[one], axis.index[other])]).product()
    }

    /// Mean over the observations of what a part adds to their variance when its variances are one.
    pub fn mean_diagonal(&self, part: usize) -> f64 {
        let members = self.structure.blocks.iter().flatten();
        let (sum, count) =
            members.fold((0.0, 0.0), |(sum, count), &it| (sum + self.shape(part, (it, it)), count + 1.0));
        sum / count
    }

    fn over_pairs(&self, block: usize, unit: &[usize], mut each: impl FnMut((usize, usize), (usize, usize))) {
        let members = &self.structure.blocks[block];
        for (position, &one) in unit.iter().enumerate() {
            for &other in &unit[..=position] {
                each((one, other), (members[one], members[other]));
            }
        }
    }

    fn over_second(&self, block: usize, mut each: impl FnMut((usize, usize), usize, usize, f64)) {
        let mut pair = Pair { first: Vec::new(), second: Vec::new() };
        for (index, part) in self.structure.parts.iter().enumerate().filter(|(_, part)| part.has_second()) {
            let own = part.variances + part.correlated.len();
            for unit in &part.units[block] {
                self.over_pairs(block, unit, |places, members| {
                    self.pair(index, members, true, &mut pair);
                    for k in 0..own {
                        for l in 0..own {
                            each(places, part.first + k, part.first + l, pair.second[k * own + l]);
                        }
                    }
                });
            }
        }
    }

    /// The factor of the variances.
    fn scale(&self, part: usize, (one, other): (usize, usize)) -> f64 {
        let sorted = &self.structure.parts[part];
        let of = |group: usize| self.coordinates[sorted.first + group];
        match (&sorted.group, sorted.is_logarithmic) {
            (None, _) => of(0),
            (Some(group), false) => of(group[one]),
            (Some(group), true) => (0.5 * (of(group[one]) + of(group[other]))).exp(),
        }
    }

    /// The factor of the axes.
    fn shape(&self, part: usize, (one, other): (usize, usize)) -> f64 {
        let axes = self.structure.parts[part].axes.iter().zip(&self.tables[part]);
        axes.map(|(axis, table)| table.value[(axis.index[one], axis.index[other])]).product()
    }

    fn pair(&self, part: usize, members: (usize, usize), with_second: bool, pair: &mut Pair) {
        let sorted = &self.structure.parts[part];
        let (scale, shape) = (self.scale(part, members), self.shape(part, members));
        let own = sorted.variances + sorted.correlated.len();
        pair.first.clear();
        pair.first.extend((0..sorted.variances).map(|group| sorted.scale_slope(group, members, scale) * shape));
        for &axis in &sorted.correlated {
            pair.first.push(scale * self.shape_derivative(part, members, axis, None));
        }
        if !with_second {
            return;
        }
        pair.second.clear();
        pair.second.resize(own * own, 0.0);
        for g in 0..sorted.variances {
            let slope = sorted.scale_slope(g, members, scale);
            if sorted.is_logarithmic {
                for h in 0..sorted.variances {
                    pair.second[g * own + h] = slope * sorted.share(h, members) * shape;
                }
            }
            for (a, &axis) in sorted.correlated.iter().enumerate().map(|(a, axis)| (sorted.variances + a, axis)) {
                let value = slope * self.shape_derivative(part, members, axis, None);
                (pair.second[g * own + a], pair.second[a * own + g]) = (value, value);
            }
        }
        for (a, &axis) in sorted.correlated.iter().enumerate() {
            for (b, &other) in sorted.correlated.iter().enumerate() {
                let value = scale * self.shape_derivative(part, members, axis, Some(other));
                pair.second[(sorted.variances + a) * own + sorted.variances + b] = value;
            }
        }
    }

    /// Derivative of the factor of the axes along one of them, and again along another or the same.
    fn shape_derivative(&self, part: usize, members: (usize, usize), axis: usize, again: Option<usize>) -> f64 {
        let axes = self.structure.parts[part].axes.iter().zip(&self.tables[part]).enumerate();
        let factor = |(index, (positions, table)): (usize, (&Positions, &AxisTable))| {
            let matrix = match (index == axis, again == Some(index)) {
                (true, true) => &table.second,
                (true, false) | (false, true) => &table.first,
                (false, false) => &table.value,
            };
            matrix[(positions.index[members.0], positions.index[members.1])]
        };
        axes.map(factor).product()
    }
}

impl SortedPart {
    /// Whether each observation is its own unit.
    pub fn is_each(&self) -> bool {
        self.units.iter().all(|block| block.iter().all(|unit| unit.len() == 1))
    }

    /// Whether some second derivative is not zero.
    pub fn has_second(&self) -> bool {
        self.is_logarithmic || !self.correlated.is_empty()
    }

    /// Where its correlations stand among the coordinates.
    pub fn correlations(&self) -> std::ops::Range<usize> {
        self.first + self.variances..self.first + self.variances + self.correlated.len()
    }

    /// Half of how many of the two observations are in the group.
    fn share(&self, group: usize, (one, other): (usize, usize)) -> f64 {
        let is_in = |member: usize| self.group.as_ref().is_none_or(|of| of[member] == group);
        0.5 * (f64::from(u8::from(is_in(one))) + f64::from(u8::from(is_in(other))))
    }

    /// Derivative of the factor of the variances by one of them.
    fn scale_slope(&self, group: usize, members: (usize, usize), scale: f64) -> f64 {
        if self.is_logarithmic { scale * self.share(group, members) } else { self.share(group, members) }
    }
}
