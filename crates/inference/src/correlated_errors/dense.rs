//! The inverse and the determinant of a covariance matrix of some hundred to some thousand plots.
//!
//! The work is done in tiles of 4 x 4 that stay in registers, on copies that are read in order (Goto & van de Geijn 2008, ACM
//! Trans. Math. Softw. 34:12, for the idea). Plain loops would wait for memory from about 100 plots on. A library with
//! instructions of the newest processors would be quicker still, but gives other last digits on every machine.

use crate::matrix::Matrix;

/// Rows and columns of a tile.
const TILE: usize = 4;
/// Matrices up to this size are worked on directly.
const SMALL: usize = 24;
/// Depth up to which tiles are summed at one go, so that a strip of them stays near the processor.
const DEPTH: usize = 256;
/// Strips of the first factor that are used again and again before going on.
const STRIPS: usize = 32;
/// A pivot that falls below this share of its own diagonal is rounding error.
const ROUNDING: f64 = 1e-13;

/// Copies of four neighbouring rows (or columns) of a factor each, by depth.
struct Strips {
    width: usize,
    depth: usize,
    values: Vec<[f64; TILE]>,
    /// For each strip the depths outside of which it is zero.
    filled: Vec<(usize, usize)>,
}

impl Strips {
    fn new(width: usize, depth: usize, entry: impl Fn(usize, usize) -> f64) -> Self {
        let count = width.div_ceil(TILE);
        let mut values = vec![[0.0; TILE]; count * depth];
        for strip in 0..count {
            let lanes = TILE.min(width - strip * TILE);
            for (inner, tile) in values[strip * depth..(strip + 1) * depth].iter_mut().enumerate() {
                for (lane, value) in tile.iter_mut().enumerate().take(lanes) {
                    *value = entry(strip * TILE + lane, inner);
                }
            }
        }
        Self { width, depth, values, filled: vec![(0, depth); count] }
    }

    /// Says that the first depths of each strip are zero: up to its own first row.
    fn zero_before_own(mut self) -> Self {
        self.filled.iter_mut().enumerate().for_each(|(strip, filled)| filled.0 = strip * TILE);
        self
    }

    /// Says that the last depths of each strip are zero: from beyond its own last row.
    fn zero_after_own(mut self) -> Self {
        let depth = self.depth;
        self.filled.iter_mut().enumerate().for_each(|(strip, filled)| filled.1 = depth.min((strip + 1) * TILE));
        self
    }

    fn strip(&self, strip: usize, from: usize, to: usize) -> &[[f64; TILE]] {
        &self.values[strip * self.depth + from..strip * self.depth + to]
    }
}

/// Where in a matrix a rectangle starts.
type Corner = (usize, usize);

/// `target[corner..] += sign * left' right`, both given by depth; `upper_only` leaves tiles below the diagonal as they are.
fn accumulate(target: &mut Matrix, corner: Corner, left: &Strips, right: &Strips, sign: f64, upper_only: bool) {
    let (rows, columns) = (left.filled.len(), right.filled.len());
    for start in (0..left.depth).step_by(DEPTH) {
        let end = left.depth.min(start + DEPTH);
        for first in (0..rows).step_by(STRIPS) {
            for column in 0..columns {
                for row in first..rows.min(first + STRIPS) {
                    if upper_only && row > column {
                        break;
                    }
                    let from = start.max(left.filled[row].0).max(right.filled[column].0);
                    let to = end.min(left.filled[row].1).min(right.filled[column].1);
                    if from < to {
                        let tile = tile_product(left.strip(row, from, to), right.strip(column, from, to));
                        add_tile(target, (corner.0 + row * TILE, corner.1 + column * TILE), &tile, sign, {
                            (left.width - row * TILE, right.width - column * TILE)
                        });
                    }
                }
            }
        }
    }
}

fn tile_product(left: &[[f64; TILE]], right: &[[f64; TILE]]) -> [[f64; TILE]; TILE] {
    let mut sums = [[0.0; TILE]; TILE];
    for (a, b) in left.iter().zip(right) {
        for row in 0..TILE {
            for column in 0..TILE {
                sums[row][column] += a[row] * b[column];
            }
        }
    }
    sums
}

fn add_tile(target: &mut Matrix, (row, column): Corner, tile: &[[f64; TILE]; TILE], sign: f64, left: (usize, usize)) {
    for (lane, sums) in tile.iter().enumerate().take(left.0) {
        let start = (row + lane) * target.columns + column;
        let end = start + TILE.min(left.1);
        target.values[start..end].iter_mut().zip(sums).for_each(|(value, sum)| *value += sign * sum);
    }
}

/// `left * right`.
pub(crate) fn product(left: &Matrix, right: &Matrix) -> Matrix {
    let mut result = Matrix::zeros(left.rows, right.columns);
    let first = Strips::new(left.rows, left.columns, |row, inner| left[(row, inner)]);
    let second = Strips::new(right.columns, right.rows, |column, inner| right[(inner, column)]);
    accumulate(&mut result, (0, 0), &first, &second, 1.0, false);
    result
}

/// The inverse of a symmetric positive definite matrix (upper triangle given) and the logarithm of its determinant; `None` when
/// a pivot falls to rounding error.
pub(crate) fn inverse(mut matrix: Matrix) -> Option<(Matrix, f64)> {
    let size = matrix.rows;
    let diagonal: Vec<f64> = (0..size).map(|index| matrix[(index, index)]).collect();
    factor(&mut matrix, 0, size, &diagonal)?;
    let log_determinant = 2.0 * (0..size).map(|index| matrix[(index, index)].ln()).sum::<f64>();
    invert_triangle(&mut matrix, 0, size);
    let strips = |matrix: &Matrix| {
        let entry = |row: usize, inner: usize| if inner < row { 0.0 } else { matrix[(row, inner)] };
        Strips::new(size, size, entry).zero_before_own()
    };
    let mut inverse = Matrix::zeros(size, size);
    accumulate(&mut inverse, (0, 0), &strips(&matrix), &strips(&matrix), 1.0, true);
    for row in 1..size {
        for column in 0..row {
            inverse[(row, column)] = inverse[(column, row)];
        }
    }
    Some((inverse, log_determinant))
}

/// `U` with `U'U =` the square of `matrix` that starts at `at`, in its upper triangle.
fn factor(matrix: &mut Matrix, at: usize, size: usize, diagonal: &[f64]) -> Option<()> {
    if size <= SMALL {
        return factor_small(matrix, at, size, diagonal);
    }
    let half = (size / 2).next_multiple_of(TILE);
    factor(matrix, at, half, diagonal)?;
    solve_transposed(matrix, at, half, at + half, size - half);
    let strips = Strips::new(size - half, half, |column, inner| matrix[(at + inner, at + half + column)]);
    accumulate(matrix, (at + half, at + half), &strips, &strips, -1.0, true);
    factor(matrix, at + half, size - half, diagonal)
}

fn factor_small(matrix: &mut Matrix, at: usize, size: usize, diagonal: &[f64]) -> Option<()> {
    let (stride, end) = (matrix.columns, at + size);
    for pivot in at..end {
        let rest = matrix[(pivot, pivot)];
        if !(rest > ROUNDING * diagonal[pivot].abs() && rest.is_finite()) {
            return None;
        }
        let root = rest.sqrt();
        let (above, below) = matrix.values.split_at_mut((pivot + 1) * stride);
        let pivot_row = &mut above[pivot * stride..];
        pivot_row[pivot..end].iter_mut().for_each(|value| *value /= root);
        for row in pivot + 1..end {
            let start = (row - pivot - 1) * stride;
            let share = pivot_row[row];
            crate::matrix::add_scaled(&mut below[start + row..start + end], -share, &pivot_row[row..end]);
        }
    }
    Some(())
}

/// Replaces the rectangle in rows `at..at + size` and columns `first..first + width` by `U^-T` times itself, with `U` at `at`.
fn solve_transposed(matrix: &mut Matrix, at: usize, size: usize, first: usize, width: usize) {
    if size > SMALL {
        let half = (size / 2).next_multiple_of(TILE);
        solve_transposed(matrix, at, half, first, width);
        let triangle = Strips::new(size - half, half, |column, inner| matrix[(at + inner, at + half + column)]);
        let solved = Strips::new(width, half, |column, inner| matrix[(at + inner, first + column)]);
        accumulate(matrix, (at + half, first), &triangle, &solved, -1.0, false);
        return solve_transposed(matrix, at + half, size - half, first, width);
    }
    let stride = matrix.columns;
    for pivot in at..at + size {
        let (above, below) = matrix.values.split_at_mut((pivot + 1) * stride);
        let pivot_row = &mut above[pivot * stride..];
        let root = pivot_row[pivot];
        pivot_row[first..first + width].iter_mut().for_each(|value| *value /= root);
        for row in pivot + 1..at + size {
            let start = (row - pivot - 1) * stride + first;
            let share = pivot_row[row];
            crate::matrix::add_scaled(&mut below[start..start + width], -share, &pivot_row[first..first + width]);
        }
    }
}

/// Replaces the upper triangle at `at` by its inverse.
fn invert_triangle(matrix: &mut Matrix, at: usize, size: usize) {
    if size <= SMALL {
        return invert_small_triangle(matrix, at, size);
    }
    let half = (size / 2).next_multiple_of(TILE);
    let rest = size - half;
    invert_triangle(matrix, at, half);
    invert_triangle(matrix, at + half, rest);
    let top = |row: usize, inner: usize| if inner < row { 0.0 } else { matrix[(at + row, at + inner)] };
    let top = Strips::new(half, half, top).zero_before_own();
    let between = Strips::new(rest, half, |column, inner| matrix[(at + inner, at + half + column)]);
    let mut first = Matrix::zeros(half, rest);
    accumulate(&mut first, (0, 0), &top, &between, 1.0, false);
    let bottom = |column: usize, inner: usize| {
        if inner > column { 0.0 } else { matrix[(at + half + inner, at + half + column)] }
    };
    let bottom = Strips::new(rest, rest, bottom).zero_after_own();
    let first = Strips::new(half, rest, |row, inner| first[(row, inner)]);
    for row in at..at + half {
        matrix.row_mut(row)[at + half..at + size].fill(0.0);
    }
    accumulate(matrix, (at, at + half), &first, &bottom, -1.0, false);
}

fn invert_small_triangle(matrix: &mut Matrix, at: usize, size: usize) {
    let (stride, end) = (matrix.columns, at + size);
    for row in (at..end).rev() {
        let (above, below) = matrix.values.split_at_mut((row + 1) * stride);
        let current = &mut above[row * stride..];
        let pivot = 1.0 / current[row];
        let mut solved = [0.0; SMALL];
        for inner in row + 1..end {
            let start = (inner - row - 1) * stride;
            let share = -current[inner] * pivot;
            crate::matrix::add_scaled(&mut solved[inner - at..size], share, &below[start + inner..start + end]);
        }
        current[row] = pivot;
        current[row + 1..end].copy_from_slice(&solved[row + 1 - at..size]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::matrix::Cholesky;

    /// Correlations along a line with some added to the diagonal, of any size.
    fn covariance(size: usize) -> Matrix {
        let mut matrix = Matrix::zeros(size, size);
        for row in 0..size {
            for column in 0..size {
                matrix[(row, column)] =
                    0.9_f64.powi(row.abs_diff(column) as i32) * (1.0 + 0.01 * (row.min(column) as f64));
            }
            matrix[(row, row)] += 0.3;
        }
        matrix
    }

    #[test]
    fn the_inverse_is_that_of_the_plain_method_at_every_size() {
        for size in [1, 2, 3, 5, 23, 24, 25, 31, 48, 50, 97, 150, 261] {
            let matrix = covariance(size);
            let plain = Cholesky::of(&matrix).unwrap();
            let (inverse, log_determinant) = inverse(matrix).unwrap();
            let mut difference = plain.inverse();
            difference.add_scaled(-1.0, &inverse);
            assert!(difference.largest() < 1e-13 * inverse.largest() * size as f64, "{size}");
            assert!((log_determinant - plain.log_determinant()).abs() < 1e-12 * size as f64, "{size}");
        }
    }

    #[test]
    fn the_product_is_that_of_the_plain_loop() {
        for (rows, inner, columns) in [(1, 1, 1), (3, 7, 5), (66, 300, 31), (130, 40, 9)] {
            let entry = |index: usize| ((index * 7919 % 1013) as f64 - 500.0) / 500.0;
            let left = Matrix { rows, columns: inner, values: (0..rows * inner).map(entry).collect() };
            let right = Matrix { rows: inner, columns, values: (0..inner * columns).map(entry).collect() };
            let mut difference = left.times(&right);
            difference.add_scaled(-1.0, &product(&left, &right));
            assert!(difference.largest() < 1e-12, "{rows} {inner} {columns}");
        }
    }

    #[test]
    fn a_matrix_that_is_not_positive_has_no_inverse() {
        let mut matrix = covariance(60);
        matrix[(40, 40)] = 0.1;
        assert!(inverse(matrix).is_none());
    }
}
