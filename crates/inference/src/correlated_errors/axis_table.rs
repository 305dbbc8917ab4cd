//! The factor of one axis for every pair of positions, with its derivatives.

use super::part::{Axis, Shape};
use crate::matrix::{Matrix, add_scaled, dot};

/// Positions of an axis, each once.
#[derive(Debug, Clone)]
pub(crate) struct Positions {
    pub shape: Shape,
    /// For each observation the index of its position.
    pub index: Vec<usize>,
    /// Number of positions.
    pub count: usize,
    /// Distance (in steps, or in units of the usual distance) for each pair; the factor itself where nothing is estimated.
    pairs: Matrix,
    /// What one unit of `pairs` is, in the unit of the positions.
    pub unit: f64,
}

/// The factor and its first two derivatives by the working coordinate.
#[derive(Debug, Clone)]
pub(crate) struct AxisTable {
    pub value: Matrix,
    pub first: Matrix,
    pub second: Matrix,
}

impl Positions {
    pub fn of(axis: &Axis) -> Self {
        let mut distinct = axis.position.clone();
        distinct.sort_by(f64::total_cmp);
        distinct.dedup();
        let find = |position: &f64| distinct.partition_point(|it| it < position);
        let index = axis.position.iter().map(find).collect();
        let count = distinct.len();
        let unit = if axis.shape == Shape::Decay { usual_step(&distinct) } else { 1.0 };
        let distance = |row: usize, column: usize| (distinct[row] - distinct[column]).abs() / unit;
        let pairs = match axis.shape {
            Shape::Steps | Shape::Decay => by_pair(count, distance),
            Shape::Straight => {
                let longest = distance(0, count - 1);
                by_pair(count, |row, column| longest - distance(row, column))
            }
            Shape::Spline => spline(&distinct),
            Shape::Line => {
                let line = standardised(&distinct);
                by_pair(count, |row, column| line[row] * line[column])
            }
        };
        Self { shape: axis.shape, index, count, pairs, unit }
    }

    /// The table at a working coordinate, which is not used where nothing is estimated.
    pub fn table(&self, coordinate: f64) -> AxisTable {
        if !self.shape.is_correlation() {
            let zero = Matrix::zeros(0, 0);
            return AxisTable { value: self.pairs.clone(), first: zero.clone(), second: zero };
        }
        let (rho, slope, bend) = correlation(self.shape, coordinate);
        let power = |distance: f64| match self.shape {
            // whole steps: powi keeps the sign of a negative correlation
            Shape::Steps => [rho.powi(distance as i32), whole_power(rho, distance, 1), whole_power(rho, distance, 2)],
            _ => {
                let value = rho.powf(distance);
                let first = if distance == 0.0 { 0.0 } else { distance * value / rho };
                [value, first, first * (distance - 1.0) / rho]
            }
        };
        let mut table = AxisTable {
            value: Matrix::zeros(self.count, self.count),
            first: Matrix::zeros(self.count, self.count),
            second: Matrix::zeros(self.count, self.count),
        };
        for row in 0..self.count {
            for column in 0..=row {
                let [value, first, second] = power(self.pairs[(row, column)]);
                for at in [(row, column), (column, row)] {
                    table.value[at] = value;
                    table.first[at] = first * slope;
                    table.second[at] = second * slope * slope + first * bend;
                }
            }
        }
        table
    }
}

/// The correlation at a working coordinate, and its two derivatives: the hyperbolic tangent for steps, where it may be negative,
/// the logistic function for decay.
pub(crate) fn correlation(shape: Shape, coordinate: f64) -> (f64, f64, f64) {
    match shape {
        Shape::Steps => {
            let rho = coordinate.tanh();
            // 1 - rho^2 without losing digits near one
            let slope = coordinate.cosh().powi(-2);
            (rho, slope, -2.0 * rho * slope)
        }
        _ => {
            let rho = 1.0 / (1.0 + (-coordinate).exp());
            let slope = rho / (1.0 + coordinate.exp());
            (rho, slope, slope * (1.0 - 2.0 * rho))
        }
    }
}

/// The working coordinate of a correlation.
pub(crate) fn coordinate(shape: Shape, rho: f64) -> f64 {
    match shape {
        Shape::Steps => rho.atanh(),
        _ => (rho / (1.0 - rho)).ln(),
    }
}

/// Derivative of `rho ^ distance` by `rho`, `order` times, for whole distances.
fn whole_power(rho: f64, distance: f64, order: i32) -> f64 {
    let steps = distance as i32;
    if steps < order {
        return 0.0;
    }
    let factor = if order == 1 { distance } else { distance * (distance - 1.0) };
    factor * rho.powi(steps - order)
}

fn by_pair(count: usize, entry: impl Fn(usize, usize) -> f64) -> Matrix {
    let mut matrix = Matrix::zeros(count, count);
    for row in 0..count {
        for column in 0..count {
            matrix[(row, column)] = entry(row, column);
        }
    }
    matrix
}

/// The middle one of the distances between neighbours.
fn usual_step(distinct: &[f64]) -> f64 {
    let mut steps: Vec<f64> = distinct.windows(2).map(|pair| pair[1] - pair[0]).collect();
    steps.sort_by(f64::total_cmp);
    steps.get(steps.len() / 2).copied().unwrap_or(1.0)
}

/// Positions centred, with a mean square of one.
pub(crate) fn standardised(positions: &[f64]) -> Vec<f64> {
    let count = positions.len() as f64;
    let mean = positions.iter().sum::<f64>() / count;
    let centred: Vec<f64> = positions.iter().map(|it| it - mean).collect();
    let size = (dot(&centred, &centred) / count).sqrt();
    centred.iter().map(|it| if size > 0.0 { it / size } else { 0.0 }).collect()
}

/// Covariance whose best linear predictor is the cubic smoothing spline, free of constant and line, with a mean of one on the
/// diagonal.
///
/// # Source
/// Wahba (1978), J. R. Statist. Soc. B 40:364-372: the integrated random walk, `s^2 (3 t - s) / 6` for `s <= t`. Taking constant and
/// line out on both sides changes nothing while both are fixed columns.
fn spline(distinct: &[f64]) -> Matrix {
    let count = distinct.len();
    let (low, high) = (distinct[0], distinct[count - 1]);
    let length = if high > low { high - low } else { 1.0 };
    let at = |index: usize| (distinct[index] - low) / length;
    let mut kernel = by_pair(count, |row, column| {
        let (s, t) = (at(row.min(column)), at(row.max(column)));
        s * s * (3.0 * t - s) / 6.0
    });
    let constant = vec![1.0 / (count as f64).sqrt(); count];
    let line: Vec<f64> = standardised(distinct).iter().map(|it| it / (count as f64).sqrt()).collect();
    for known in [&constant, &line] {
        for row in 0..count {
            let share = dot(kernel.row(row), known);
            add_scaled(kernel.row_mut(row), -share, known);
        }
        kernel = kernel.transposed();
        for row in 0..count {
            let share = dot(kernel.row(row), known);
            add_scaled(kernel.row_mut(row), -share, known);
        }
    }
    let size = kernel.trace() / count as f64;
    if size > 0.0 { kernel.scaled(1.0 / size) } else { kernel }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(shape: Shape, coordinate: f64) -> AxisTable {
        let position = vec![3.0, 1.0, 2.0, 7.0];
        Positions::of(&Axis { name: "row".into(), position, shape }).table(coordinate)
    }

    // Source: central differences.
    #[test]
    fn derivatives_are_those_of_the_factor() {
        for (shape, at) in [(Shape::Steps, 0.7), (Shape::Steps, -0.4), (Shape::Steps, 0.0), (Shape::Decay, 1.3)] {
            let step = 1e-4;
            let (low, middle, high) = (table(shape, at - step), table(shape, at), table(shape, at + step));
            for pair in 0..middle.value.values.len() {
                let [a, b, c] = [&low, &middle, &high].map(|it| it.value.values[pair]);
                assert!(((c - a) / (2.0 * step) - middle.first.values[pair]).abs() < 1e-7);
                assert!(((a - 2.0 * b + c) / (step * step) - middle.second.values[pair]).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn the_coordinate_undoes_the_correlation() {
        for (shape, rho) in [(Shape::Steps, -0.3), (Shape::Steps, 0.99), (Shape::Decay, 0.2)] {
            assert!((correlation(shape, coordinate(shape, rho)).0 - rho).abs() < 1e-14);
        }
    }

    #[test]
    fn a_spline_is_free_of_constant_and_line() {
        let kernel = table(Shape::Spline, 0.0).value;
        for known in [[1.0; 4], [1.0, 2.0, 3.0, 7.0]] {
            assert!(kernel.times_vector(&known).iter().all(|it| it.abs() < 1e-13));
        }
        assert!((kernel.trace() - 4.0).abs() < 1e-13);
    }
}
