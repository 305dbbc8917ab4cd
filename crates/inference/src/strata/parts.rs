//! How the comparisons of a term are divided over the strata.

use super::OrthogonalLayout;
use crate::matrix::{Matrix, add_scaled, dot, symmetric_eigen};
use crate::plots::Plots;

/// The part of a term that lies in one stratum.
#[derive(Debug, Clone)]
pub(crate) struct StratumPart {
    /// Index of the stratum.
    pub stratum: usize,
    /// Degrees of freedom.
    pub df: f64,
    /// Comparisons of cells present, so scaled that with equal variances their estimates are independent with variance one.
    pub rows: Matrix,
    /// Sum of squares.
    pub ss: f64,
}

impl OrthogonalLayout {
    /// Divides the comparisons of a term over the strata; nothing when they cannot be divided cleanly.
    pub fn divide(&self, rows: &[Vec<f64>], plots: &Plots) -> Option<Vec<StratumPart>> {
        let replication = &plots.cells.replication;
        let present: Vec<Vec<f64>> = rows.iter().map(|row| over_present(row, plots)).collect();
        let basis = orthonormal(&present, replication)?;
        let means = plots.cell_means();
        let mut parts = Vec::new();
        for (index, stratum) in self.strata.iter().enumerate() {
            let within = basis.times(&stratum.share).times_transposed(&basis);
            let df = within.trace();
            if df < 0.5 {
                continue;
            }
            let here = if (df - rows.len() as f64).abs() < 1e-6 { basis.clone() } else { eigen_part(&within, &basis)? };
            let of_rows = here.times_vector(&means);
            parts.push(StratumPart { stratum: index, df: here.rows as f64, ss: dot(&of_rows, &of_rows), rows: here });
        }
        let total: usize = parts.iter().map(|part| part.rows.rows).sum();
        (total == rows.len()).then_some(parts)
    }
}

fn over_present(row: &[f64], plots: &Plots) -> Vec<f64> {
    let mut short = vec![0.0; plots.cells.replication.len()];
    for (cell, &weight) in row.iter().enumerate() {
        if let Some(index) = plots.cells.present[cell] {
            short[index] = weight;
        }
    }
    short
}

/// Combines comparisons so that, with equal variances, their estimates are independent with variance one.
fn orthonormal(rows: &[Vec<f64>], replication: &[f64]) -> Option<Matrix> {
    let product =
        |a: &[f64], b: &[f64]| -> f64 { (0..replication.len()).map(|it| a[it] * b[it] / replication[it]).sum() };
    let mut basis: Vec<Vec<f64>> = Vec::new();
    for row in rows {
        let mut row = row.clone();
        let before = product(&row, &row);
        for _twice_for_rounding in 0..2 {
            for known in &basis {
                let share = product(known, &row);
                add_scaled(&mut row, -share, known);
            }
        }
        let after = product(&row, &row);
        if after <= 1e-18 * before {
            return None;
        }
        row.iter_mut().for_each(|value| *value /= after.sqrt());
        basis.push(row);
    }
    Some(Matrix::from_rows(&basis))
}

/// The comparisons that lie wholly in the stratum, when all lie wholly in or wholly out of it.
fn eigen_part(within: &Matrix, basis: &Matrix) -> Option<Matrix> {
    let (values, vectors) = symmetric_eigen(within);
    if values.iter().any(|value| (value - value.round()).abs() > 1e-6) {
        return None;
    }
    let chosen: Vec<Vec<f64>> =
        (0..values.len()).filter(|&index| values[index] > 0.5).map(|index| vectors.row(index).to_vec()).collect();
    Some(Matrix::from_rows(&chosen).times(basis))
}
