//! Products of blocks by packed tiles.
//!
//! Both operands are first copied into strips as the tile wants them, then every tile of the result is summed in registers.
//! Source of the scheme: Goto & van de Geijn (2008), ACM Trans. Math. Softw. 34(3):12 (from memory).

/// Rows and columns of a tile: sixteen sums stay in the registers of any 64-bit processor.
const ROWS: usize = 8;
const COLUMNS: usize = 2;
/// Numbers summed over before the operands are packed anew; a strip of both then fits the nearest cache.
const DEPTH: usize = 256;
/// Rows packed at a time.
const HEIGHT: usize = 96;

/// A block to be read: element `(row, column)` is `values[row * down + column * across]`.
#[derive(Clone, Copy)]
pub(in crate::network) struct Block<'a> {
    pub values: &'a [f64],
    pub down: usize,
    pub across: usize,
}

impl<'a> Block<'a> {
    /// A block stored by columns.
    pub fn columns(values: &'a [f64], stride: usize) -> Self {
        Self { values, down: 1, across: stride }
    }

    /// The same block with rows and columns exchanged.
    pub fn transposed(self) -> Self {
        Self { values: self.values, down: self.across, across: self.down }
    }

    /// The block that begins at this row and column.
    pub fn from(self, row: usize, column: usize) -> Self {
        let start = (row * self.down + column * self.across).min(self.values.len());
        Self { values: &self.values[start..], ..self }
    }
}

/// Which part of a result is wanted.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Wanted {
    All,
    /// What lies above the diagonal may hold anything.
    Lower,
}

/// Multiplies blocks; holds the room for packing.
#[derive(Default)]
pub(in crate::network) struct Kernel {
    left: Vec<f64>,
    right: Vec<f64>,
}

impl Kernel {
    /// `result += factor * a * b'` for `a` of `rows` x `depth` and `b` of `columns` x `depth`.
    pub fn add(
        &mut self,
        result: &mut [f64],
        stride: usize,
        size: (usize, usize, usize),
        factor: f64,
        a: Block,
        b: Block,
    ) {
        self.multiply(result, stride, size, factor, a, b, Wanted::All);
    }

    /// The lower triangle of `result += factor * a * b'`; what is above it may be overwritten.
    pub fn add_lower(
        &mut self,
        result: &mut [f64],
        stride: usize,
        size: (usize, usize),
        factor: f64,
        a: Block,
        b: Block,
    ) {
        self.multiply(result, stride, (size.0, size.0, size.1), factor, a, b, Wanted::Lower);
    }

    #[allow(clippy::too_many_arguments)]
    fn multiply(
        &mut self,
        result: &mut [f64],
        stride: usize,
        (rows, columns, depth): (usize, usize, usize),
        factor: f64,
        a: Block,
        b: Block,
        wanted: Wanted,
    ) {
        for start in (0..depth).step_by(DEPTH) {
            let deep = DEPTH.min(depth - start);
            pack::<COLUMNS>(&mut self.right, b.from(0, start), columns, deep);
            for top in (0..rows).step_by(HEIGHT) {
                let high = HEIGHT.min(rows - top);
                pack::<ROWS>(&mut self.left, a.from(top, start), high, deep);
                let width = if wanted == Wanted::Lower { columns.min(top + high) } else { columns };
                tiles(
                    &mut result[top..],
                    stride,
                    (high, width, deep),
                    factor,
                    &self.left,
                    &self.right,
                    |row, column| wanted == Wanted::Lower && top + row + ROWS <= column,
                );
            }
        }
    }
}

/// Copies `count` rows of a block into strips of `N` rows, the last one filled with zeros.
fn pack<const N: usize>(strips: &mut Vec<f64>, block: Block, count: usize, depth: usize) {
    let size = count.next_multiple_of(N) * depth;
    if strips.len() < size {
        strips.resize(size, 0.0);
    }
    for (strip, first) in strips[..size].chunks_exact_mut(N * depth).zip((0..).step_by(N)) {
        let rows = N.min(count - first);
        for (inner, slot) in strip.chunks_exact_mut(N).enumerate() {
            let from = &block.values[first * block.down + inner * block.across..];
            if block.down == 1 && rows == N {
                slot.copy_from_slice(&from[..N]);
            } else {
                slot[rows..].fill(0.0);
                slot[..rows].iter_mut().enumerate().for_each(|(row, it)| *it = from[row * block.down]);
            }
        }
    }
}

fn tiles(
    result: &mut [f64],
    stride: usize,
    (rows, columns, depth): (usize, usize, usize),
    factor: f64,
    left: &[f64],
    right: &[f64],
    skipped: impl Fn(usize, usize) -> bool,
) {
    for (right, column) in right.chunks_exact(COLUMNS * depth).zip((0..columns).step_by(COLUMNS)) {
        for (left, row) in left.chunks_exact(ROWS * depth).zip((0..rows).step_by(ROWS)) {
            if skipped(row, column) {
                continue;
            }
            let sums = tile(left, right);
            for (inner, sums) in sums.iter().enumerate().take(columns - column) {
                let target = &mut result[(column + inner) * stride + row..];
                let high = ROWS.min(rows - row);
                target[..high].iter_mut().zip(sums).for_each(|(value, sum)| *value += factor * sum);
            }
        }
    }
}

/// The sums of one tile.
#[inline(always)]
fn tile(left: &[f64], right: &[f64]) -> [[f64; ROWS]; COLUMNS] {
    let mut sums = [[0.0; ROWS]; COLUMNS];
    let (left, _) = left.as_chunks::<ROWS>();
    let (right, _) = right.as_chunks::<COLUMNS>();
    for (left, right) in left.iter().zip(right) {
        for column in 0..COLUMNS {
            for row in 0..ROWS {
                sums[column][row] += left[row] * right[column];
            }
        }
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    fn values(count: usize) -> Vec<f64> {
        (0..count).map(|index| ((index * 37 + 11) % 101) as f64 / 50.0 - 1.0).collect()
    }

    fn check(rows: usize, columns: usize, depth: usize) {
        let (a, b) = (values(rows * depth), values(columns * depth));
        let mut result = values(rows * columns);
        let mut expected = result.clone();
        for column in 0..columns {
            for row in 0..rows {
                let sum: f64 = (0..depth).map(|it| a[it * rows + row] * b[column * depth + it]).sum();
                expected[column * rows + row] -= sum;
            }
        }
        let (a, b) = (Block::columns(&a, rows), Block::columns(&b, depth).transposed());
        Kernel::default().add(&mut result, rows, (rows, columns, depth), -1.0, a, b);
        assert!(result.iter().zip(&expected).all(|(a, b)| (a - b).abs() < 1e-11), "{rows} {columns} {depth}");
    }

    #[test]
    fn products_are_those_of_plain_sums() {
        for (rows, columns, depth) in [(1, 1, 1), (8, 2, 3), (9, 3, 5), (13, 7, 300), (101, 5, 2), (200, 17, 259)] {
            check(rows, columns, depth);
        }
    }

    #[test]
    fn the_lower_triangle_is_that_of_the_whole() {
        let (size, depth) = (123, 31);
        let a = values(size * depth);
        let block = Block::columns(&a, size);
        let (mut whole, mut lower) = (vec![0.0; size * size], vec![0.0; size * size]);
        Kernel::default().add(&mut whole, size, (size, size, depth), 1.0, block, block);
        Kernel::default().add_lower(&mut lower, size, (size, depth), 1.0, block, block);
        assert!((0..size).all(|column| {
            let range = column * size + column..(column + 1) * size;
            whole[range.clone()] == lower[range]
        }));
    }
}
