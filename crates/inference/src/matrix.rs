//! Small dense matrices, row by row.
//!
//! A trial has some tens of treatments and units; at that size a plain loop is quicker than a call into a blocked
//! library, and it gives the same digits on every machine.

use serde::{Deserialize, Serialize};

/// A dense matrix of `rows` x `columns`, stored row by row.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub(crate) struct Matrix {
    pub rows: usize,
    pub columns: usize,
    pub values: Vec<f64>,
}

impl std::ops::Index<(usize, usize)> for Matrix {
    type Output = f64;
    fn index(&self, (row, column): (usize, usize)) -> &f64 {
        &self.values[row * self.columns + column]
    }
}

impl std::ops::IndexMut<(usize, usize)> for Matrix {
    fn index_mut(&mut self, (row, column): (usize, usize)) -> &mut f64 {
        &mut self.values[row * self.columns + column]
    }
}

impl Matrix {
    pub fn zeros(rows: usize, columns: usize) -> Self {
        Self { rows, columns, values: vec![0.0; rows * columns] }
    }

    pub fn from_rows(rows: &[Vec<f64>]) -> Self {
        let columns = rows.first().map_or(0, Vec::len);
        Self { rows: rows.len(), columns, values: rows.concat() }
    }

    pub fn from_diagonal(diagonal: &[f64]) -> Self {
        let mut matrix = Self::zeros(diagonal.len(), diagonal.len());
        for (index, &value) in diagonal.iter().enumerate() {
            matrix[(index, index)] = value;
        }
        matrix
    }

    pub fn row(&self, row: usize) -> &[f64] {
        &self.values[row * self.columns..(row + 1) * self.columns]
    }

    pub fn row_mut(&mut self, row: usize) -> &mut [f64] {
        &mut self.values[row * self.columns..(row + 1) * self.columns]
    }

    pub fn transposed(&self) -> Self {
        let mut transposed = Self::zeros(self.columns, self.rows);
        for row in 0..self.rows {
            for column in 0..self.columns {
                transposed[(column, row)] = self[(row, column)];
            }
        }
        transposed
    }

    /// `self * other`.
    pub fn times(&self, other: &Self) -> Self {
        let mut product = Self::zeros(self.rows, other.columns);
        for row in 0..self.rows {
            for inner in 0..self.columns {
                let factor = self[(row, inner)];
                if factor != 0.0 {
                    add_scaled(product.row_mut(row), factor, other.row(inner));
                }
            }
        }
        product
    }

    /// `self * other'`.
    pub fn times_transposed(&self, other: &Self) -> Self {
        let mut product = Self::zeros(self.rows, other.rows);
        for row in 0..self.rows {
            for column in 0..other.rows {
                product[(row, column)] = dot(self.row(row), other.row(column));
            }
        }
        product
    }

    pub fn times_vector(&self, vector: &[f64]) -> Vec<f64> {
        (0..self.rows).map(|row| dot(self.row(row), vector)).collect()
    }

    /// `vector' * self * vector` of a square matrix; zeros of the vector cost nothing.
    pub fn quadratic_form(&self, vector: &[f64]) -> f64 {
        let weighted = vector.iter().enumerate().filter(|&(_, &weight)| weight != 0.0);
        weighted.map(|(row, &weight)| weight * dot(self.row(row), vector)).sum()
    }

    /// Adds `factor * other` in place.
    pub fn add_scaled(&mut self, factor: f64, other: &Self) {
        add_scaled(&mut self.values, factor, &other.values);
    }

    pub fn scaled(mut self, factor: f64) -> Self {
        self.values.iter_mut().for_each(|value| *value *= factor);
        self
    }

    pub fn trace(&self) -> f64 {
        (0..self.rows).map(|index| self[(index, index)]).sum()
    }

    pub fn largest(&self) -> f64 {
        self.values.iter().fold(0.0, |largest, value| largest.max(value.abs()))
    }

    /// The trace of `self * other` for two square matrices.
    pub fn trace_of_product(&self, other: &Self) -> f64 {
        (0..self.rows)
            .map(|row| (0..self.columns).map(|column| self[(row, column)] * other[(column, row)]).sum::<f64>())
            .sum()
    }

    /// The first rows and columns.
    pub fn leading(&self, size: usize) -> Self {
        let mut part = Self::zeros(size, size);
        for row in 0..size {
            part.row_mut(row).copy_from_slice(&self.row(row)[..size]);
        }
        part
    }

    /// The symmetric matrix with this upper triangle.
    pub fn mirrored(mut self) -> Self {
        for row in 0..self.rows {
            for column in 0..row {
                self[(row, column)] = self[(column, row)];
            }
        }
        self
    }

    /// Columns `start..end`.
    pub fn column_range(&self, start: usize, end: usize) -> Self {
        let mut part = Self::zeros(self.rows, end - start);
        for row in 0..self.rows {
            part.row_mut(row).copy_from_slice(&self.row(row)[start..end]);
        }
        part
    }
}

/// Four sums side by side, so that the processor need not wait for one before it begins the next.
pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    let (a, b) = (&a[..a.len().min(b.len())], &b[..a.len().min(b.len())]);
    let (fours_of_a, fours_of_b) = (a.chunks_exact(4), b.chunks_exact(4));
    let rest: f64 = fours_of_a.remainder().iter().zip(fours_of_b.remainder()).map(|(x, y)| x * y).sum();
    let mut sums = [0.0; 4];
    for (x, y) in fours_of_a.zip(fours_of_b) {
        for (sum, (x, y)) in sums.iter_mut().zip(x.iter().zip(y)) {
            *sum += x * y;
        }
    }
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest
}

pub(crate) fn add_scaled(target: &mut [f64], factor: f64, source: &[f64]) {
    for (value, &addend) in target.iter_mut().zip(source) {
        *value += factor * addend;
    }
}

/// Lower triangle `L` with `L L' =` a symmetric positive definite matrix.
#[derive(Debug, Clone)]
pub(crate) struct Cholesky {
    lower: Matrix,
}

impl Cholesky {
    /// Factors `matrix`; `None` when a pivot falls to rounding error of its own diagonal, that is, when a column
    /// depends on those before it.
    pub fn of(matrix: &Matrix) -> Option<Self> {
        let size = matrix.rows;
        let mut lower = Matrix::zeros(size, size);
        for row in 0..size {
            for column in 0..=row {
                let inner = dot(&lower.row(row)[..column], &lower.row(column)[..column]);
                let rest = matrix[(row, column)] - inner;
                if row > column {
                    lower[(row, column)] = rest / lower[(column, column)];
                } else if rest > 1e-13 * matrix[(row, row)].abs() && rest.is_finite() {
                    lower[(row, row)] = rest.sqrt();
                } else {
                    return None;
                }
            }
        }
        Some(Self { lower })
    }

    /// Natural logarithm of the determinant of the factored matrix.
    pub fn log_determinant(&self) -> f64 {
        2.0 * (0..self.lower.rows).map(|index| self.lower[(index, index)].ln()).sum::<f64>()
    }

    /// The factor of `factor` times the factored matrix.
    pub fn scaled(self, factor: f64) -> Self {
        Self { lower: self.lower.scaled(factor.sqrt()) }
    }

    /// `L^-1 right`, for a right-hand side with one column per unknown vector.
    pub fn solve_lower(&self, right: &Matrix) -> Matrix {
        let mut solution = right.clone();
        for row in 0..self.lower.rows {
            let (above, below) = solution.values.split_at_mut(row * right.columns);
            let current = &mut below[..right.columns];
            for inner in 0..row {
                let factor = self.lower[(row, inner)];
                if factor != 0.0 {
                    add_scaled(current, -factor, &above[inner * right.columns..(inner + 1) * right.columns]);
                }
            }
            let pivot = self.lower[(row, row)];
            current.iter_mut().for_each(|value| *value /= pivot);
        }
        solution
    }

    /// `L^-1 right` for one vector.
    pub fn solve_lower_vector(&self, right: &[f64]) -> Vec<f64> {
        let mut solution = right.to_vec();
        for row in 0..self.lower.rows {
            let inner = dot(&self.lower.row(row)[..row], &solution[..row]);
            solution[row] = (solution[row] - inner) / self.lower[(row, row)];
        }
        solution
    }

    /// The factored matrix's inverse times one vector.
    pub fn solve_vector(&self, right: &[f64]) -> Vec<f64> {
        let mut solution = self.solve_lower_vector(right);
        for row in (0..self.lower.rows).rev() {
            let inner: f64 = (row + 1..self.lower.rows).map(|below| self.lower[(below, row)] * solution[below]).sum();
            solution[row] = (solution[row] - inner) / self.lower[(row, row)];
        }
        solution
    }

    /// The factored matrix's inverse.
    pub fn inverse(&self) -> Matrix {
        let size = self.lower.rows;
        // rows of `across` are the columns of L^-1, which begin on the diagonal
        let mut across = Matrix::zeros(size, size);
        for row in 0..size {
            let pivot = self.lower[(row, row)];
            for column in 0..row {
                let sum = dot(&self.lower.row(row)[column..row], &across.row(column)[column..row]);
                across[(column, row)] = -sum / pivot;
            }
            across[(row, row)] = 1.0 / pivot;
        }
        let mut inverse = Matrix::zeros(size, size);
        for row in 0..size {
            for column in 0..=row {
                let value = dot(&across.row(row)[row..], &across.row(column)[row..]);
                (inverse[(row, column)], inverse[(column, row)]) = (value, value);
            }
        }
        inverse
    }
}

/// Eigenvalues and, as rows, orthonormal eigenvectors of a symmetric matrix, by Jacobi's rotations.
///
/// # Source
/// Golub & Van Loan, Matrix Computations, 4th ed., section 8.5 (cyclic Jacobi; the formulas from memory).
pub(crate) fn symmetric_eigen(matrix: &Matrix) -> (Vec<f64>, Matrix) {
    let size = matrix.rows;
    let mut work = matrix.clone();
    let mut vectors = Matrix::from_diagonal(&vec![1.0; size]);
    for _sweep in 0..60 {
        let off: f64 =
            (0..size).flat_map(|row| (0..row).map(move |column| (row, column))).map(|at| work[at].powi(2)).sum();
        if off.sqrt() <= 1e-15 * work.largest() * size as f64 {
            break;
        }
        for row in 1..size {
            for column in 0..row {
                rotate(&mut work, &mut vectors, row, column);
            }
        }
    }
    ((0..size).map(|index| work[(index, index)]).collect(), vectors)
}

fn rotate(work: &mut Matrix, vectors: &mut Matrix, p: usize, q: usize) {
    if work[(p, q)] == 0.0 {
        return;
    }
    let ratio = (work[(q, q)] - work[(p, p)]) / (2.0 * work[(p, q)]);
    let tangent = ratio.signum() / (ratio.abs() + ratio.hypot(1.0));
    let cosine = 1.0 / tangent.hypot(1.0);
    let sine = tangent * cosine;
    for index in 0..work.rows {
        let (a, b) = (work[(index, p)], work[(index, q)]);
        (work[(index, p)], work[(index, q)]) = (cosine * a - sine * b, sine * a + cosine * b);
    }
    for index in 0..work.rows {
        let (a, b) = (work[(p, index)], work[(q, index)]);
        (work[(p, index)], work[(q, index)]) = (cosine * a - sine * b, sine * a + cosine * b);
        let (a, b) = (vectors[(p, index)], vectors[(q, index)]);
        (vectors[(p, index)], vectors[(q, index)]) = (cosine * a - sine * b, sine * a + cosine * b);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn example() -> Matrix {
        Matrix::from_rows(&[vec![4.0, 2.0, 0.6], vec![2.0, 5.0, 1.0], vec![0.6, 1.0, 3.0]])
    }

    #[test]
    fn a_matrix_times_its_inverse_is_the_identity() {
        let matrix = example();
        let mut product = matrix.times(&Cholesky::of(&matrix).unwrap().inverse());
        product.add_scaled(-1.0, &Matrix::from_diagonal(&[1.0; 3]));
        assert!(product.largest() < 1e-14);
    }

    #[test]
    fn solving_undoes_multiplying() {
        let matrix = example();
        let solved = Cholesky::of(&matrix).unwrap().solve_vector(&matrix.times_vector(&[1.0, -2.0, 3.0]));
        assert!(solved.iter().zip([1.0, -2.0, 3.0]).all(|(a, b)| (a - b).abs() < 1e-13));
    }

    #[test]
    fn dependent_columns_have_no_factor() {
        assert!(Cholesky::of(&Matrix::from_rows(&[vec![1.0, 2.0], vec![2.0, 4.0]])).is_none());
    }

    #[test]
    fn eigenvectors_rebuild_the_matrix() {
        let matrix = example();
        let (values, vectors) = symmetric_eigen(&matrix);
        let mut rebuilt = vectors.transposed().times(&Matrix::from_diagonal(&values)).times(&vectors);
        rebuilt.add_scaled(-1.0, &matrix);
        assert!(rebuilt.largest() < 1e-13);
    }
}
