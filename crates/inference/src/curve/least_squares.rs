//! Linear least squares on a few columns.

use crate::matrix::{Matrix, add_scaled, dot};

/// A column that keeps less than this of its length after the others are taken out counts as depending on them.
const DEPENDENT: f64 = 1e-10;

/// Least squares of values on columns, by orthogonalising the columns twice over.
#[derive(Debug, Clone)]
pub(super) struct LeastSquares {
    /// Weights of the columns.
    pub weights: Vec<f64>,
    /// What is left of the values.
    pub left: Vec<f64>,
    /// Sum of its squares.
    pub squares: f64,
    /// Columns turned into directions of length one that are free of each other.
    directions: Vec<Vec<f64>>,
    /// Columns in those directions: upper triangle.
    triangle: Matrix,
}

impl LeastSquares {
    /// Nothing when the columns depend on one another.
    pub fn of(columns: &[Vec<f64>], values: &[f64]) -> Option<Self> {
        let count = columns.len();
        let mut triangle = Matrix::zeros(count, count);
        let mut directions: Vec<Vec<f64>> = Vec::with_capacity(count);
        for (index, column) in columns.iter().enumerate() {
            let mut rest = column.clone();
            for _twice_for_rounding in 0..2 {
                for (known, direction) in directions.iter().enumerate() {
                    let share = dot(direction, &rest);
                    triangle[(known, index)] += share;
                    add_scaled(&mut rest, -share, direction);
                }
            }
            let length = dot(&rest, &rest).sqrt();
            if length.is_nan() || length <= DEPENDENT * dot(column, column).sqrt() {
                return None;
            }
            triangle[(index, index)] = length;
            rest.iter_mut().for_each(|value| *value /= length);
            directions.push(rest);
        }
        let mut left = values.to_vec();
        let mut shares = vec![0.0; count];
        for _twice_for_rounding in 0..2 {
            for (index, direction) in directions.iter().enumerate() {
                let share = dot(direction, &left);
                shares[index] += share;
                add_scaled(&mut left, -share, direction);
            }
        }
        let weights = back_substituted(&triangle, &shares);
        Some(Self { weights, squares: dot(&left, &left), left, directions, triangle })
    }

    /// Covariance of the weights, for values of variance one.
    pub fn covariance(&self) -> Matrix {
        let count = self.weights.len();
        let unit = |index: usize| (0..count).map(|it| f64::from(u8::from(it == index))).collect::<Vec<f64>>();
        let columns: Vec<Vec<f64>> = (0..count).map(|index| back_substituted(&self.triangle, &unit(index))).collect();
        // the inverse's columns, held as rows: its transpose
        let inverse = Matrix::from_rows(&columns).transposed();
        inverse.times_transposed(&inverse)
    }

    /// How a weighted sum of the weights is made up of the values.
    pub fn made_up_of(&self, sum: &[f64]) -> Vec<f64> {
        let mut shares = vec![0.0; sum.len()];
        for index in 0..sum.len() {
            let before: f64 = (0..index).map(|it| self.triangle[(it, index)] * shares[it]).sum();
            shares[index] = (sum[index] - before) / self.triangle[(index, index)];
        }
        let mut made_up = vec![0.0; self.left.len()];
        shares.iter().zip(&self.directions).for_each(|(share, direction)| add_scaled(&mut made_up, *share, direction));
        made_up
    }
}

fn back_substituted(triangle: &Matrix, shares: &[f64]) -> Vec<f64> {
    let mut weights = shares.to_vec();
    for index in (0..weights.len()).rev() {
        let later: f64 = (index + 1..weights.len()).map(|it| triangle[(index, it)] * weights[it]).sum();
        weights[index] = (weights[index] - later) / triangle[(index, index)];
    }
    weights
}

/// Directions of length one, free of each other and of those `known`, that the columns add; dependent columns add none.
pub(super) fn further_directions(known: &[Vec<f64>], columns: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let mut all: Vec<Vec<f64>> = known.to_vec();
    for column in columns {
        let mut rest = column.clone();
        for _twice_for_rounding in 0..2 {
            for direction in &all {
                let share = dot(direction, &rest);
                add_scaled(&mut rest, -share, direction);
            }
        }
        let length = dot(&rest, &rest).sqrt();
        if length > 1e-8 * dot(column, column).sqrt() {
            rest.iter_mut().for_each(|value| *value /= length);
            all.push(rest);
        }
    }
    all.split_off(known.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_through_three_points() {
        // by hand: slope 1.5, intercept 1/3, residuals 1/6, -1/3, 1/6
        let solved = LeastSquares::of(&[vec![1.0; 3], vec![1.0, 2.0, 3.0]], &[2.0, 3.0, 5.0]).unwrap();
        assert!((solved.weights[0] - 1.0 / 3.0).abs() < 1e-14 && (solved.weights[1] - 1.5).abs() < 1e-14);
        assert!((solved.squares - 1.0 / 6.0).abs() < 1e-14);
        let covariance = solved.covariance();
        assert!((covariance[(1, 1)] - 0.5).abs() < 1e-14 && (covariance[(0, 0)] - 14.0 / 6.0).abs() < 1e-14);
        let slope = solved.made_up_of(&[0.0, 1.0]);
        assert!(slope.iter().zip([-0.5, 0.0, 0.5]).all(|(a, b)| (a - b).abs() < 1e-14));
    }

    #[test]
    fn dependent_columns_have_no_weights_and_add_no_direction() {
        let columns = [vec![1.0, 1.0, 0.0], vec![2.0, 2.0, 0.0]];
        assert!(LeastSquares::of(&columns, &[1.0, 2.0, 3.0]).is_none());
        assert_eq!(further_directions(&[], &columns).len(), 1);
        assert_eq!(further_directions(&columns[..1], &[]).len(), 0);
    }
}
