//! Inverses from Cholesky factors.

use super::{Block, Kernel};

/// Columns that are solved with plain loops.
const NARROW: usize = 16;

/// The inverse of the lower triangle in the first `size` rows of `factor` (`stride` from column to column), by columns, zeros
/// above the diagonal.
pub(in crate::network) fn lower_inverse(kernel: &mut Kernel, factor: &[f64], stride: usize, size: usize) -> Vec<f64> {
    let mut inverse = vec![0.0; size * size];
    for start in (0..size).step_by(NARROW) {
        let width = NARROW.min(size - start);
        // Rows of the inverse left of the diagonal block: what the rows above give, then the block's own triangle.
        let (done, open) = inverse.split_at_mut(start * size);
        let mut above = vec![0.0; width * start];
        let left = Block::columns(factor, stride).from(start, 0);
        let right = Block::columns(done, size).transposed();
        kernel.add(&mut above, width, (width, start, start), -1.0, left, right);
        for column in 0..start {
            let solved = &mut above[column * width..(column + 1) * width];
            solve_narrow(factor, stride, start, solved);
            done[column * size + start..column * size + start + width].copy_from_slice(solved);
        }
        for column in 0..width {
            let mut unit = [0.0; NARROW];
            unit[column] = 1.0;
            solve_narrow(factor, stride, start, &mut unit[..width]);
            let at = column * size + start;
            open[at..at + width].copy_from_slice(&unit[..width]);
        }
    }
    inverse
}

/// Solves with the diagonal block that begins at `start`.
fn solve_narrow(factor: &[f64], stride: usize, start: usize, right: &mut [f64]) {
    for row in 0..right.len() {
        let column = &factor[(start + row) * stride + start..];
        right[row] /= column[row];
        let known = right[row];
        if known != 0.0 {
            for below in row + 1..right.len() {
                right[below] -= known * column[below];
            }
        }
    }
}

/// `L^-T L^-1` from `L^-1` of `size` x `size`, both triangles set, into `result` with its own stride.
pub(in crate::network) fn inverse_of_factored(
    kernel: &mut Kernel,
    lower_inverse: &[f64],
    size: usize,
    result: &mut [f64],
    stride: usize,
) {
    const WIDE: usize = 48;
    let whole = Block::columns(lower_inverse, size);
    for start in (0..size).step_by(WIDE) {
        let width = WIDE.min(size - start);
        for column in start..start + width {
            result[column * stride..column * stride + size].fill(0.0);
        }
        for top in (start..size).step_by(WIDE) {
            // Rows of `L^-1` before `top` are zero in the columns from `top` on.
            let high = WIDE.min(size - top);
            let depth = size - top;
            let a = whole.from(top, top).transposed();
            let b = whole.from(top, start).transposed();
            let target = &mut result[start * stride + top..];
            kernel.add(target, stride, (high, width, depth), 1.0, a, b);
        }
    }
    mirror(result, stride, size);
}

/// Copies the lower triangle to the upper.
fn mirror(block: &mut [f64], stride: usize, size: usize) {
    const TILE: usize = 16;
    for left in (0..size).step_by(TILE) {
        for top in (left..size).step_by(TILE) {
            for column in left..(left + TILE).min(size) {
                for row in top.max(column + 1)..(top + TILE).min(size) {
                    block[row * stride + column] = block[column * stride + row];
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::factor_columns;
    use super::*;

    #[test]
    fn an_inverse_times_its_block_is_the_identity() {
        for size in [1, 4, 17, 60, 131] {
            let entry = |row: usize, column: usize| {
                let far = row.abs_diff(column) as f64;
                if row == column { 4.0 } else { (1.0 + far).recip() }
            };
            let mut block: Vec<f64> = (0..size * size).map(|at| entry(at % size, at / size)).collect();
            let mut kernel = Kernel::default();
            factor_columns(&mut kernel, &mut block, size, size).unwrap();
            let lower = lower_inverse(&mut kernel, &block, size, size);
            let mut inverse = vec![f64::NAN; size * size];
            inverse_of_factored(&mut kernel, &lower, size, &mut inverse, size);
            for row in 0..size {
                for column in 0..size {
                    let product: f64 = (0..size).map(|it| inverse[it * size + row] * entry(it, column)).sum();
                    let expected = f64::from(u8::from(row == column));
                    assert!((product - expected).abs() < 1e-12, "{size}: {row}, {column}: {product}");
                }
            }
        }
    }
}
