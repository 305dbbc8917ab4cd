//! `H = L D L'` on a fixed pattern, and the entries of its inverse on the same pattern.
//!
//! Source: Takahashi, Fagan & Chin (1973) for the inverse on the pattern, as told by Erisman & Tinney (1975), Commun. ACM
//! 18:177-179 (from memory; tests hold both against dense algebra).

use super::pattern::Pattern;

/// A symmetric matrix on a pattern: its diagonal and its entries below.
#[derive(Debug, Clone, Default)]
pub(crate) struct Symmetric {
    pub diagonal: Vec<f64>,
    pub below: Vec<f64>,
}

/// `L` (below its diagonal of ones) and `D`.
#[derive(Debug, Clone, Default)]
pub(crate) struct Factor {
    pub pivot: Vec<f64>,
    pub below: Vec<f64>,
}

impl Symmetric {
    /// `P + sum_i w_i g_i g_i'`, `P` the precision of the effects by themselves.
    pub fn precision(pattern: &Pattern, sd: &[f64], weight: &[f64]) -> Self {
        let mut sum = Self::weighted(pattern, sd, weight);
        sum.diagonal.iter_mut().enumerate().for_each(|(place, value)| *value += pattern.precision(place));
        sum
    }

    /// `sum_i w_i g_i g_i'`.
    pub fn weighted(pattern: &Pattern, sd: &[f64], weight: &[f64]) -> Self {
        let mut sum = Self { diagonal: vec![0.0; pattern.size], below: vec![0.0; pattern.entries()] };
        for (observation, weight) in weight.iter().enumerate() {
            let mut meetings = pattern.meetings(observation).iter();
            let along = pattern.along(observation);
            for (b, &place) in pattern.places(observation).iter().enumerate() {
                let load = sd[b] * along[b];
                let scaled = weight * load;
                sum.diagonal[place] += scaled * load;
                for ((sd, along), &entry) in sd[..b].iter().zip(along).zip(meetings.by_ref()) {
                    sum.below[entry] += scaled * (sd * along);
                }
            }
        }
        sum
    }
}

impl Factor {
    /// Factors a positive definite matrix.
    pub fn of(pattern: &Pattern, matrix: Symmetric) -> Self {
        let Symmetric { diagonal: mut pivot, mut below } = matrix;
        for column in 0..pattern.size {
            let divisor = pivot[column];
            pattern.each_pair(column, |a, b, entry| below[entry] -= below[a] * below[b] / divisor);
            for entry in pattern.column(column) {
                let value = below[entry];
                below[entry] = value / divisor;
                pivot[pattern.row(entry)] -= value * below[entry];
            }
        }
        Self { pivot, below }
    }

    pub fn log_determinant(&self) -> f64 {
        // logarithms are dear: pivots are multiplied until they grow large or small
        let (mut sum, mut product) = (0.0, 1.0_f64);
        for pivot in &self.pivot {
            product *= pivot;
            if !(1e-100..1e100).contains(&product) {
                sum += product.ln();
                product = 1.0;
            }
        }
        sum + product.ln()
    }

    /// Replaces `vector` by `H^-1 vector`.
    pub fn solve(&self, pattern: &Pattern, vector: &mut [f64]) {
        self.solve_rows(pattern, vector, 1);
    }

    /// Replaces several right-hand sides, `width` of them side by side in each row, by their solutions.
    pub fn solve_rows(&self, pattern: &Pattern, rows: &mut [f64], width: usize) {
        for column in 0..pattern.size {
            for entry in pattern.column(column) {
                let (above, below) = rows.split_at_mut((column + 1) * width);
                let at = (pattern.row(entry) - column - 1) * width;
                subtract(&mut below[at..at + width], self.below[entry], &above[column * width..]);
            }
        }
        for column in (0..pattern.size).rev() {
            let (above, below) = rows.split_at_mut((column + 1) * width);
            let own = &mut above[column * width..];
            own.iter_mut().for_each(|value| *value /= self.pivot[column]);
            for entry in pattern.column(column) {
                let at = (pattern.row(entry) - column - 1) * width;
                subtract(own, self.below[entry], &below[at..at + width]);
            }
        }
    }

    /// The inverse, on the pattern.
    pub fn inverse(&self, pattern: &Pattern) -> Symmetric {
        let mut diagonal = vec![0.0; pattern.size];
        let mut below = vec![0.0; pattern.entries()];
        for column in (0..pattern.size).rev() {
            for entry in pattern.column(column) {
                below[entry] = -diagonal[pattern.row(entry)] * self.below[entry];
            }
            pattern.each_pair(column, |a, b, entry| {
                let met = below[entry];
                below[a] -= met * self.below[b];
                below[b] -= met * self.below[a];
            });
            let through: f64 = pattern.column(column).map(|entry| self.below[entry] * below[entry]).sum();
            diagonal[column] = 1.0 / self.pivot[column] - through;
        }
        Symmetric { diagonal, below }
    }
}

fn subtract(target: &mut [f64], factor: f64, source: &[f64]) {
    for (value, source) in target.iter_mut().zip(source) {
        *value -= factor * source;
    }
}
