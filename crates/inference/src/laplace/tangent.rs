//! How the inverse of `H` (on its pattern) changes when `H` does, in several directions at once.
//!
//! The factorisation and the recursion for the inverse are differentiated step by step; every number becomes a row with one
//! derivative per direction, so that the inner loops run over directions.

use super::factor::{Factor, Symmetric};
use super::pattern::Pattern;

/// Derivatives of a symmetric matrix on a pattern: `width` side by side for every entry.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tangent {
    pub width: usize,
    pub diagonal: Vec<f64>,
    pub below: Vec<f64>,
}

impl Tangent {
    pub fn zeros(pattern: &Pattern, width: usize) -> Self {
        Self { width, diagonal: vec![0.0; pattern.size * width], below: vec![0.0; pattern.entries() * width] }
    }

    pub fn diagonal(&self, place: usize) -> &[f64] {
        &self.diagonal[place * self.width..(place + 1) * self.width]
    }

    pub fn below(&self, entry: usize) -> &[f64] {
        &self.below[entry * self.width..(entry + 1) * self.width]
    }

    pub fn diagonal_mut(&mut self, place: usize) -> &mut [f64] {
        &mut self.diagonal[place * self.width..(place + 1) * self.width]
    }

    pub fn below_mut(&mut self, entry: usize) -> &mut [f64] {
        &mut self.below[entry * self.width..(entry + 1) * self.width]
    }

    /// Turns derivatives of `H` into those of its inverse.
    pub fn of_inverse(mut self, pattern: &Pattern, factor: &Factor, inverse: &Symmetric) -> Self {
        self.replace_by_factor(pattern, factor);
        self.replace_by_inverse(pattern, factor, inverse);
        self
    }

    /// Derivatives of `H` become those of `D` and `L`.
    fn replace_by_factor(&mut self, pattern: &Pattern, factor: &Factor) {
        let width = self.width;
        for column in 0..pattern.size {
            let range = pattern.column(column);
            if range.is_empty() {
                continue;
            }
            let (pivot, lower) = (factor.pivot[column], &factor.below);
            let (done, later_diagonal) = self.diagonal.split_at_mut((column + 1) * width);
            let of_pivot = &done[column * width..];
            // all pairs of a column meet in columns further right
            let (own, later) = self.below.split_at_mut(range.end * width);
            for entry in range.clone() {
                let slope = &mut own[entry * width..(entry + 1) * width];
                for (slope, of_pivot) in slope.iter_mut().zip(of_pivot) {
                    *slope = (*slope - lower[entry] * of_pivot) / pivot;
                }
                let at = (pattern.row(entry) - column - 1) * width;
                let target = &mut later_diagonal[at..at + width];
                let (once, twice) = (lower[entry] * lower[entry], 2.0 * pivot * lower[entry]);
                for ((target, of_pivot), slope) in target.iter_mut().zip(of_pivot).zip(&*slope) {
                    *target -= once * of_pivot + twice * slope;
                }
            }
            pattern.each_pair(column, |a, b, entry| {
                let at = (entry - range.end) * width;
                let target = &mut later[at..at + width];
                let (of_a, of_b) = (&own[a * width..(a + 1) * width], &own[b * width..(b + 1) * width]);
                let (both, by_a, by_b) = (lower[a] * lower[b], pivot * lower[a], pivot * lower[b]);
                for m in 0..width {
                    target[m] -= both * of_pivot[m] + by_b * of_a[m] + by_a * of_b[m];
                }
            });
        }
    }

    /// Derivatives of `D` and `L` become those of the inverse on the pattern.
    fn replace_by_inverse(&mut self, pattern: &Pattern, factor: &Factor, inverse: &Symmetric) {
        let width = self.width;
        let mut of_lower: Vec<f64> = Vec::new();
        for column in (0..pattern.size).rev() {
            let range = pattern.column(column);
            let (left_diagonal, later_diagonal) = self.diagonal.split_at_mut((column + 1) * width);
            let own_diagonal = &mut left_diagonal[column * width..];
            let scale = -1.0 / (factor.pivot[column] * factor.pivot[column]);
            own_diagonal.iter_mut().for_each(|value| *value *= scale);
            if range.is_empty() {
                continue;
            }
            let (left, later) = self.below.split_at_mut(range.end * width);
            let own = &mut left[range.start * width..];
            of_lower.clear();
            of_lower.extend_from_slice(own);
            for (index, entry) in range.clone().enumerate() {
                let row = pattern.row(entry);
                let at = (row - column - 1) * width;
                let (lower, met) = (factor.below[entry], inverse.diagonal[row]);
                let of_met = &later_diagonal[at..at + width];
                for (value, of_met) in own[index * width..(index + 1) * width].iter_mut().zip(of_met) {
                    *value = -met * *value - lower * of_met;
                }
            }
            pattern.each_pair(column, |a, b, entry| {
                let at = (entry - range.end) * width;
                let of_met = &later[at..at + width];
                let (met, a, b) = (inverse.below[entry], a - range.start, b - range.start);
                let (lower_a, lower_b) = (factor.below[a + range.start], factor.below[b + range.start]);
                for m in 0..width {
                    own[a * width + m] -= of_met[m] * lower_b + met * of_lower[b * width + m];
                    own[b * width + m] -= of_met[m] * lower_a + met * of_lower[a * width + m];
                }
            });
            for (index, entry) in range.enumerate() {
                let (lower, of_inverse) = (factor.below[entry], inverse.below[entry]);
                let slopes = own[index * width..].iter().zip(&of_lower[index * width..]);
                for (target, (own, of_lower)) in own_diagonal.iter_mut().zip(slopes) {
                    *target -= of_lower * of_inverse + lower * own;
                }
            }
        }
    }
}
