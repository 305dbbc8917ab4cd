//! Cholesky factor of the first columns of a symmetric block.

use super::{Block, Kernel};

/// Columns that are factored with plain loops.
const NARROW: usize = 16;
/// A pivot below this share of the diagonal it began as is rounding.
const ROUNDING: f64 = 1e-13;

/// The column whose pivot is zero but for rounding, or negative.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::network) struct NotPositive {
    /// Index of the column.
    pub column: usize,
}

/// Replaces `panel`, the first `columns` columns of a symmetric block of `rows` rows, by those of its Cholesky factor. Returns the
/// sum of the logarithms of the squared pivots.
///
/// # Errors
/// [`NotPositive`] when a column depends on those before it.
pub(in crate::network) fn factor_columns(
    kernel: &mut Kernel,
    panel: &mut [f64],
    rows: usize,
    columns: usize,
) -> Result<f64, NotPositive> {
    let mut log_determinant = 0.0;
    for start in (0..columns).step_by(NARROW) {
        let width = NARROW.min(columns - start);
        let (before, rest) = panel.split_at_mut(start * rows);
        let diagonal: Vec<f64> = (0..width).map(|it| rest[it * rows + start + it]).collect();
        let above = Block::columns(before, rows);
        let from = above.from(start, 0);
        kernel.add(&mut rest[start..], rows, (rows - start, width, start), -1.0, from, from);
        for inner in 0..width {
            let (current, later) = rest.split_at_mut((inner + 1) * rows);
            let current = &mut current[inner * rows + start + inner..];
            let pivot = current[0];
            if !(pivot > ROUNDING * diagonal[inner] && pivot.is_finite()) {
                return Err(NotPositive { column: start + inner });
            }
            log_determinant += pivot.ln();
            let root = pivot.sqrt();
            current[0] = root;
            current[1..].iter_mut().for_each(|value| *value /= root);
            for (ahead, column) in later.chunks_exact_mut(rows).take(width - inner - 1).enumerate() {
                let factor = current[ahead + 1];
                let target = &mut column[start + inner + ahead + 1..];
                target.iter_mut().zip(&current[ahead + 1..]).for_each(|(value, known)| *value -= factor * known);
            }
        }
    }
    Ok(log_determinant)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_factor_times_itself_is_the_block() {
        for size in [1, 5, 16, 17, 70] {
            let entry = |row: usize, column: usize| {
                let near = 1.0 / (1.0 + row.abs_diff(column) as f64);
                if row == column { 3.0 + row as f64 * 0.1 } else { near }
            };
            let mut block: Vec<f64> = (0..size * size).map(|at| entry(at % size, at / size)).collect();
            let log_determinant = factor_columns(&mut Kernel::default(), &mut block, size, size).unwrap();
            let lower = |row: usize, column: usize| if row >= column { block[column * size + row] } else { 0.0 };
            for row in 0..size {
                for column in 0..=row {
                    let product: f64 = (0..size).map(|it| lower(row, it) * lower(column, it)).sum();
                    assert!((product - entry(row, column)).abs() < 1e-13);
                }
            }
            let expected: f64 = (0..size).map(|it| 2.0 * lower(it, it).ln()).sum();
            assert!((log_determinant - expected).abs() < 1e-12);
        }
    }

    #[test]
    fn a_column_that_follows_from_others_is_named() {
        let mut block = vec![4.0, 2.0, 2.0, 2.0, 5.0, 3.0, 2.0, 3.0, 2.0];
        let found = factor_columns(&mut Kernel::default(), &mut block, 3, 3);
        assert_eq!(found, Err(NotPositive { column: 2 }));
    }
}
